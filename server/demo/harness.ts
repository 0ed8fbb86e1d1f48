import { randomBytes } from 'node:crypto'
import { setTimeout as sleep } from 'node:timers/promises'
import { WebSocket } from 'ws'
import { encodeFrame } from '#protocol/frames'
import { PROTOCOL_VERSION } from '#protocol/messages'
import type { SenderMessage, ServerToSender } from '#protocol/messages'
import type { Trace } from '#signal/trace/trace'
import { cookieHeader } from './demo-api.ts'
import { harnessFrame, SAMPLES_PER_PACKET } from './harness-packets.ts'

/** Share of packets that never arrive. */
const LOSS_RATE = 0.005
/** Delay of a packet by the radio, s: uniform from 0 to this. */
const JITTER_S = 0.04

/** Where the stream goes, and what lets it in. */
export interface LiveServer {
  readonly liveUrl: string
  readonly cookie: string
}

/**
 * Plays a simulated trace as a harness would: in real time, ten samples a packet, with jitter and
 * losses, marks as they fall. A broken connection is taken up again from what the server has.
 * Resolves once the server has confirmed the end.
 */
export async function playHarness(
  server: LiveServer,
  session: string,
  trace: Trace,
  signal: AbortSignal,
): Promise<void> {
  const stream = randomBytes(12).toString('base64url')
  const startedAtMs = Date.now()
  const lost = Array.from({ length: Math.ceil(trace.t.length / SAMPLES_PER_PACKET) }, (_, packet) =>
    packet > 0 ? Math.random() < LOSS_RATE : false,
  )
  for (;;) {
    let connection: Connection | null = null
    try {
      connection = await connect(server, session, stream, trace, startedAtMs, signal)
      return await play(connection, stream, trace, lost, startedAtMs, signal)
    } catch (error) {
      if (signal.aborted || error instanceof HarnessRefusedError) throw error
      await sleep(1000, undefined, { signal })
    } finally {
      connection?.socket.terminate()
    }
  }
}

/** The server does not want this stream: trying again would not help. */
export class HarnessRefusedError extends Error {
  override readonly name = 'HarnessRefusedError'
  /** Of the protocol's error message. */
  readonly code: string

  constructor(code: string, message: string) {
    super(message)
    this.code = code
  }
}

interface Connection {
  readonly socket: WebSocket
  readonly nextIndex: number
  readonly finished: Promise<void>
}

function connect(
  { liveUrl, cookie }: LiveServer,
  session: string,
  stream: string,
  trace: Trace,
  startedAtMs: number,
  signal: AbortSignal,
): Promise<Connection> {
  return new Promise((resolve, reject) => {
    const socket = new WebSocket(liveUrl, { perMessageDeflate: false, headers: cookieHeader(cookie) })
    const abort = () => socket.terminate()
    signal.addEventListener('abort', abort, { once: true })
    let end: { resolve(): void; reject(error: Error): void } | null = null
    const finished = new Promise<void>((resolve, reject) => (end = { resolve, reject }))
    // Whoever plays awaits it; a connection that never came about has nobody to tell.
    finished.catch(() => undefined)
    const hello: SenderMessage = {
      type: 'hello',
      protocol: PROTOCOL_VERSION,
      session,
      stream,
      rateHz: trace.rateHz,
      channels: trace.gyr ? 6 : 3,
      startedAtUs: startedAtMs * 1000,
    }
    socket.on('open', () => socket.send(JSON.stringify(hello)))
    socket.on('message', (data) => {
      const message = JSON.parse(data.toString()) as ServerToSender
      if (message.type === 'welcome') {
        resolve({ socket, nextIndex: message.nextIndex, finished })
      } else if (message.type === 'finished') {
        end?.resolve()
      } else if (message.type === 'error' && message.fatal) {
        const temporary = message.code === 'STORE_FAILED' || message.code === 'SOCKET_FAILED'
        const error = temporary
          ? new Error(message.message)
          : new HarnessRefusedError(message.code, message.message)
        end?.reject(error)
        reject(error)
      }
    })
    socket.on('error', reject)
    socket.on('close', () => {
      signal.removeEventListener('abort', abort)
      const error = new Error('the connection to the server was lost')
      end?.reject(error)
      reject(error)
    })
  })
}

async function play(
  { socket, nextIndex, finished }: Connection,
  stream: string,
  trace: Trace,
  lost: readonly boolean[],
  startedAtMs: number,
  signal: AbortSignal,
): Promise<void> {
  let mark = 0
  // Packets are cut at multiples of ten; what is stored of one already is ignored by the server.
  const firstPacket = Math.floor(nextIndex / SAMPLES_PER_PACKET)
  for (let packet = firstPacket; packet < lost.length; packet++) {
    const firstIndex = packet * SAMPLES_PER_PACKET
    const takenAtS = (firstIndex + SAMPLES_PER_PACKET) / trace.rateHz
    const dueMs = startedAtMs + (takenAtS + Math.random() * JITTER_S) * 1000
    await Promise.race([sleep(Math.max(0, dueMs - Date.now()), undefined, { signal }), finished])
    for (; mark < trace.marks.length && trace.marks[mark].atS <= takenAtS; mark++) {
      const { atS, kind, note } = trace.marks[mark]
      const message: SenderMessage = {
        type: 'mark',
        id: `${stream}-${mark}`,
        atS,
        kind,
        ...(note && { note }),
      }
      socket.send(JSON.stringify(message))
    }
    socket.send(encodeFrame(harnessFrame(trace, firstIndex, lost[packet], Date.now() * 1000)))
  }
  socket.send(JSON.stringify({ type: 'finish', stream, nextIndex: trace.t.length }))
  await finished
}
