import { decodeFrame } from '#protocol/frames'
import type { MarkMessage, SenderMessage } from '#protocol/messages'
import { FakeSocket } from './fake-socket.ts'

/** Null where the sample was declared lost. */
export type StoredSample = readonly number[] | null

interface FakeSession {
  samples: StoredSample[]
  marks: Map<string, MarkMessage>
  finished: boolean
}

/**
 * The server's side of the sender protocol in memory, as server/protocol/README.md says it: takes
 * frames in order, ignores what it has, answers a jump with FRAME_GAP, confirms what it holds.
 */
export class FakeServer {
  readonly sessions = new Map<string, FakeSession>()
  online = true
  /** Called before a frame is looked at. */
  onFrame: (bytes: Uint8Array) => void = () => {}
  /** How often a sample came that was there already. */
  repeated = 0
  errors: string[] = []
  hellos = 0
  readonly sockets: FakeSocket[] = []
  openings = 0

  session(id: string): FakeSession {
    const session = this.sessions.get(id)
    if (!session) throw new Error(`the server knows no session ${id}`)
    return session
  }

  readonly fetch = (async (_url: string, { body }: { body: string }) => {
    if (!this.online) throw new TypeError('Failed to fetch')
    const { id } = JSON.parse(body) as { id: string }
    this.openings++
    if (!this.sessions.has(id)) this.sessions.set(id, { samples: [], marks: new Map(), finished: false })
    return new Response('{}', { status: 201 })
  }) as unknown as typeof fetch

  /** The network is gone: every connection breaks, none can be made. */
  cut() {
    this.online = false
    for (const socket of this.sockets.splice(0)) socket.lose()
  }

  /** For the `create` option of a sender. */
  readonly create = (): FakeSocket => {
    const socket = new FakeSocket()
    this.sockets.push(socket)
    let session: FakeSession | null = null
    let id = ''
    const answer = (message: object) => queueMicrotask(() => socket.receive(message))
    socket.send = (data: string | Uint8Array) => {
      if (socket.closedWith !== null) return
      if (data instanceof Uint8Array) {
        this.onFrame(data)
        if (session!.finished) {
          const message = 'It is finished and takes no more samples.'
          answer({ type: 'error', code: 'SESSION_FINISHED', message, fatal: true })
          queueMicrotask(() => socket.lose(1008, 'SESSION_FINISHED'))
          return
        }
        const missing = this.#take(session!, data)
        if (missing === null) answer({ type: 'ack', stream: id, nextIndex: session!.samples.length })
        else {
          this.errors.push(`FRAME_GAP ${missing}`)
          answer({ type: 'error', code: 'FRAME_GAP', message: `Sample ${missing} is missing`, fatal: false })
        }
        return
      }
      const message = JSON.parse(data) as SenderMessage
      if (message.type === 'hello') {
        this.hellos++
        id = message.stream
        session = this.sessions.get(message.session) ?? null
        if (!session) {
          answer({
            type: 'error',
            code: 'SESSION_UNKNOWN',
            message: 'There is no such session.',
            fatal: true,
          })
          queueMicrotask(() => socket.lose(1008, 'unknown'))
          return
        }
        const nextIndex = session.samples.length
        answer({ type: 'welcome', protocol: 1, stream: id, nextIndex, serverTimeUs: 0 })
      } else if (message.type === 'mark') {
        session!.marks.set(message.id, message)
        answer({ type: 'marked', id: message.id })
      } else if (message.type === 'finish') {
        if (message.nextIndex !== session!.samples.length) {
          this.errors.push(`finish at ${message.nextIndex}, stored ${session!.samples.length}`)
          return
        }
        session!.finished = true
        answer({ type: 'finished', session: 's', stream: id, samples: message.nextIndex })
      }
    }
    setTimeout(() => (this.online ? socket.open() : socket.lose()), 0)
    return socket
  }

  /** The missing index when the frame does not follow on. */
  #take({ samples }: FakeSession, bytes: Uint8Array): number | null {
    const frame = decodeFrame(bytes)
    if (frame.firstIndex > samples.length) return samples.length
    for (let i = 0; i < frame.count; i++) {
      if (frame.firstIndex + i < samples.length) this.repeated++
      else samples.push(frame.encoding === 'lost' ? null : frame.values.map((channel) => channel[i]))
    }
    return null
  }
}
