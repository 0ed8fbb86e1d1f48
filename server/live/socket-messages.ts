import type { RawData } from 'ws'
import type { Static, TLiteral, TObject, TUnion } from 'typebox'
import { Compile } from 'typebox/compile'
import type { ErrorMessage } from '#protocol/messages'
import { ERRORS, ServerError } from '../errors.ts'
import { validationWords } from '../validation-words.ts'
import { isDiskFailure } from '../store/disk-failure.ts'

type TMessage = TObject<{ type: TLiteral<string> }>

/** Reads text messages that are one of several kinds, told apart by their `type`. */
export function messageReader<T extends TMessage>(schema: TUnion<T[]>): (data: RawData) => Static<T> {
  const checks = new Map(schema.anyOf.map((kind) => [kind.properties.type.const, Compile(kind)]))
  return (data) => {
    let message: unknown
    try {
      message = JSON.parse(data.toString())
    } catch (cause) {
      throw new ServerError('MESSAGE_UNREADABLE', {}, { cause })
    }
    const type = (message as { type?: unknown } | null)?.type
    const check = typeof type === 'string' ? checks.get(type) : undefined
    if (!check) {
      const known = [...checks.keys()].join(', ')
      throw new ServerError('MESSAGE_INVALID', { reason: `The type must be one of ${known}.` })
    }
    if (check.Check(message)) return message as Static<T>
    throw new ServerError('MESSAGE_INVALID', {
      reason: `${validationWords(check.Errors(message), type as string)}.`,
    })
  }
}

/** An error that came out of answering a message, as one of the catalogue. */
export function socketError(error: unknown): ServerError {
  if (error instanceof ServerError) return error
  return new ServerError(isDiskFailure(error) ? 'STORE_FAILED' : 'SOCKET_FAILED', {}, { cause: error })
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
  const { status, title } = ERRORS[error.code]
  // What a request is told with 401 or 403 is a refusal by policy on a socket.
  socket.close(status < 1000 ? 1008 : status, title)
}
