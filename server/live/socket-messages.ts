import type { RawData } from 'ws'
import type { Static, TSchema } from 'typebox'
import { Compile } from 'typebox/compile'
import type { ErrorMessage } from '#protocol/messages'
import { ERRORS, ServerError } from '../errors.ts'

/** Reads the text messages of one schema. */
export function messageReader<T extends TSchema>(schema: T): (data: RawData) => Static<T> {
  const check = Compile(schema)
  return (data) => {
    let message: unknown
    try {
      message = JSON.parse(data.toString())
    } catch (cause) {
      throw new ServerError('MESSAGE_UNREADABLE', {}, { cause })
    }
    if (check.Check(message)) return message
    throw new ServerError('MESSAGE_INVALID', { reason: whyNot(message, check.Errors(message)) })
  }
}

/** The error as the protocol tells it. */
export function errorMessage(error: ServerError, fatal: boolean): ErrorMessage {
  return { type: 'error', code: error.code, message: error.message, fatal }
}

/** Tells a fatal error and closes with its code. */
export function closeWith(
  socket: { send(text: string): void; close(code: number, reason: string): void },
  error: ServerError,
): void {
  socket.send(JSON.stringify(errorMessage(error, true)))
  socket.close(ERRORS[error.code].status, ERRORS[error.code].title)
}

function whyNot(message: unknown, errors: { instancePath: string; message: string }[]): string {
  const type = (message as { type?: unknown } | null)?.type
  const first = errors.find((error) => error.instancePath !== '' && error.instancePath !== '/type')
  const where = first ? ` ${first.instancePath.slice(1)} ${first.message}` : ''
  return `The message of type ${JSON.stringify(type) ?? 'nothing'} is not one of this protocol.${where}`
}
