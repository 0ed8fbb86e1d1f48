import type { FastifyBaseLogger } from 'fastify'
import { SERVER_SETTINGS } from '../author.ts'
import { ConfigError } from '../config-error.ts'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import { secretFile } from '../secret-file.ts'
import type { People } from '../store/people/people.ts'
import { setPasswordOf } from './password-by-operator.ts'

/** Names the file with the owner's first password. */
export const OWNER_PASSWORD_FILE = 'SWAYBOOK_OWNER_PASSWORD_FILE'

/**
 * Gives the owner the password in `file`, if there is none yet: a server that others reach can be started at once
 * then. Later the file is not even read, which the log says.
 * @throws {ConfigError} for a file that cannot be used, and for a password that the screens would refuse
 */
export async function setFirstPassword(
  file: string | null,
  people: People,
  log: FastifyBaseLogger,
): Promise<void> {
  if (file === null) return
  if (await people.hasPassword()) {
    return tell(log, 'owner-password.ignored', { setting: OWNER_PASSWORD_FILE })
  }
  const keeper = await people.keeper()
  try {
    await setPasswordOf(people, keeper, secretFile(file, OWNER_PASSWORD_FILE), SERVER_SETTINGS)
  } catch (cause) {
    if (!(cause instanceof ServerError)) throw cause
    throw new ConfigError(`${OWNER_PASSWORD_FILE} names ${file}. ${cause.message} Put another one into it.`, {
      cause,
    })
  }
  const { signInName } = keeper
  tell(log, 'owner-password.set', { setting: OWNER_PASSWORD_FILE, signInName })
}
