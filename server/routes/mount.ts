import { parseMount } from '#signal/mount/mount'
import { ServerError } from '../errors.ts'

/** @throws {ServerError} for a mount that is not understood, saying how to write one */
export function checkMount(mount: string): void {
  try {
    parseMount(mount)
  } catch (cause) {
    throw new ServerError('REQUEST_INVALID', { reason: (cause as Error).message }, { cause })
  }
}
