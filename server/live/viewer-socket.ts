import type { FastifyBaseLogger } from 'fastify'
import type { RawData, WebSocket } from 'ws'
import { ViewerMessage } from '#protocol/messages'
import type { SocketGuard } from '../access/socket-guard.ts'
import type { Limits } from '../config.ts'
import { ServerError } from '../errors.ts'
import type { Ingest } from '../ingest/ingest.ts'
import { TokenBucket } from '../ingest/token-bucket.ts'
import type { Records } from '../store/records.ts'
import type { Hub } from './hub.ts'
import { keepAlive } from './socket-heartbeat.ts'
import { closeWith, errorMessage, messageReader, socketError } from './socket-messages.ts'
import { Viewer } from './viewer.ts'
import { tell } from '../log/tell.ts'
import { tellRefusal } from './tell-refusal.ts'

/** Viewers tap marks; more than this is a runaway page. */
const MESSAGES_PER_S = 10
const MESSAGE_BURST = 50

const readMessage = messageReader(ViewerMessage)

/** Refusals of a mark after which the screen stays open. */
const WATCHES_ON: ReadonlySet<string> = new Set(['ROLE_TOO_LOW', 'SIGN_IN_FIRST'])

export interface ViewerParts {
  readonly hub: Hub
  readonly ingest: Ingest
  readonly records: Records
  readonly limits: Limits
  readonly log: FastifyBaseLogger
  readonly guard: SocketGuard
}

/** One watching screen: the session so far, then what happens; marks and pings come back. */
export function watchSession(socket: WebSocket, session: string, parts: ViewerParts): void {
  const { hub, limits } = parts
  const viewer = new Viewer(socket, limits.viewerBufferBytes)
  const bucket = new TokenBucket(MESSAGES_PER_S, MESSAGE_BURST, performance.now())
  keepAlive(socket, limits.heartbeatMs)
  // Listeners first: a message that comes while the session is looked up must not be lost.
  let turn = guarded(socket, parts, () => join(socket, session, viewer, parts))
  socket.on('message', (data: RawData, binary: boolean) => {
    turn = turn.then(() =>
      guarded(socket, parts, async () => {
        if (binary) throw new ServerError('MESSAGE_INVALID', { reason: 'Viewers send no samples.' })
        if (bucket.take(performance.now()) > 0) throw new ServerError('TOO_MANY_MESSAGES')
        await answer(readMessage(data), session, viewer, parts)
      }),
    )
  })
  socket.on('close', () => void turn.then(() => hub.leave(session, viewer)))
}

async function join(socket: WebSocket, id: string, viewer: Viewer, parts: ViewerParts): Promise<void> {
  await parts.guard.requireWatching(socket, id, (error) => {
    tellRefusal(parts.log, 'viewer', error)
    if (socket.readyState === socket.OPEN) closeWith(socket, error)
  })
  const session = await parts.records.session(id)
  if (!session) throw new ServerError('SESSION_UNKNOWN', { sessionId: id })
  if (session.state === 'finished' || session.state === 'failed') return viewer.end(id)
  // After a restart the recorder is built for whoever comes first, sender or viewer.
  await parts.ingest.recorderOf(session)
  if (socket.readyState !== socket.OPEN) return
  parts.hub.channel(id).join(viewer)
  // Ended while this was looked up, or its analysis waits for the store: nobody would tell this viewer.
  const { state } = (await parts.records.session(id)) ?? { state: 'failed' }
  if (state === 'recording' || parts.ingest.isEnding(id)) return
  parts.hub.leave(id, viewer)
  viewer.end(id)
}

async function answer(
  message: ViewerMessage,
  session: string,
  viewer: Viewer,
  { ingest, guard, log }: ViewerParts,
): Promise<void> {
  if (message.type === 'ping') {
    return viewer.tell({ type: 'pong', sentAtUs: message.sentAtUs, serverTimeUs: Date.now() * 1000 })
  }
  const { id, atS, kind, note } = message
  try {
    const by = await guard.marking(session)
    await ingest.mark(session, { id, atS, kind, note: note ?? null }, { by })
  } catch (error) {
    // Who may only watch goes on watching.
    if (!(error instanceof ServerError) || !WATCHES_ON.has(error.code)) throw error
    tellRefusal(log, 'viewer', error)
    return viewer.tell(errorMessage(error, false))
  }
  viewer.tell({ type: 'marked', id })
}

async function guarded(socket: WebSocket, { log }: ViewerParts, run: () => Promise<void>): Promise<void> {
  if (socket.readyState !== socket.OPEN) return
  try {
    await run()
  } catch (error) {
    const known = socketError(error)
    if (known !== error) tell(log, 'viewer.failed', { err: error })
    else tellRefusal(log, 'viewer', known)
    if (socket.readyState === socket.OPEN) closeWith(socket, known)
  }
}
