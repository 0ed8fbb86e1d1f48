import type { FastifyBaseLogger } from 'fastify'
import type { ErrorCode, ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'

const NOT_ALLOWED: ReadonlySet<ErrorCode> = new Set([
  'SIGN_IN_FIRST',
  'ROLE_TOO_LOW',
  'SESSION_UNKNOWN',
  'ACCESS_ENDED',
])
const MISUSED: ReadonlySet<ErrorCode> = new Set([
  'FRAME_INVALID',
  'MESSAGE_INVALID',
  'MESSAGE_UNREADABLE',
  'TOO_MANY_MESSAGES',
])

/** What is refused on a live socket and matters to whoever guards the server; the rest is the protocol at work. */
export function tellRefusal(
  log: FastifyBaseLogger,
  socket: 'sender' | 'viewer',
  { code }: ServerError,
): void {
  if (NOT_ALLOWED.has(code)) tell(log, 'socket.refused', { socket, problem: code })
  else if (MISUSED.has(code)) tell(log, 'socket.misused', { socket, problem: code })
}
