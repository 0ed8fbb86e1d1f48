import { setTimeout as sleep } from 'node:timers/promises'
import { WebSocket } from 'ws'
import { encodeFrame } from '#protocol/frames'
import type { ServerToSender } from '#protocol/messages'
import type { Random } from '#signal/simulator/random'
import { createRandom } from '#signal/simulator/random'

export const CHANNELS = 3
/** Frames without an acknowledgement, at most. */
const CREDIT_FRAMES = 64
const MAX_FRAME_SAMPLES = 25

/** What sample `i` of a stream reads: exact in float32, different for every stream and axis. */
export function truth(seed: number, axis: number, i: number): number {
  return ((i * (7 + 4 * axis) + seed * 131 + axis) % 4096) / 128 - 16
}

export interface SteadySenderOptions {
  /** Asked anew for every connection. */
  readonly wsUrl: () => string
  readonly session: string
  readonly seed: number
  /** Ends there by itself; otherwise where `end` says. */
  readonly total?: number
  readonly rateHz?: number
  /** UTC µs told as the arrival of the frame that ends at `index`. */
  readonly arrivedAtUs?: (index: number) => number
  readonly startedAtUs?: number
  /** Without a frame or an acknowledgement for this long it takes the connection for dead, ms. */
  readonly deadAfterMs?: number
  /** The name the server answers to, when it is reached through something else. */
  readonly host?: string
  /** Whether being replaced (4409) ends it, as the protocol says; default true. */
  readonly yields?: boolean
}

/**
 * A sender that never gives up: keeps everything until it is acknowledged, resends from where the
 * server says, sends as fast as acknowledgements allow. Its samples come from `truth`, in frames of
 * 1 to 25, and now and then a frame it has sent before or one that overlaps.
 */
export class SteadySender {
  readonly stream: string
  readonly problems: string[] = []
  /** Error codes the server told, in order. */
  readonly errors: string[] = []
  readonly closeCodes: number[] = []
  acknowledged = 0
  /** Acknowledgements and welcomes of the current connection. */
  answers = 0
  connections = 0
  replaced = false
  finished: { samples: number } | null = null
  readonly #options: SteadySenderOptions
  readonly #random: Random
  #socket: WebSocket | null = null
  /** Everything below was sent at some time. */
  sent = 0
  /** Where the server said to go on, last time. */
  welcomedAt = 0
  #next = 0
  #total: number
  #stopped = false

  constructor(options: SteadySenderOptions) {
    this.#options = options
    this.stream = `steady-${options.seed}`
    this.#total = options.total ?? Number.POSITIVE_INFINITY
    this.#random = createRandom(options.seed)
  }

  /** Connects, again and again, until the server has confirmed the end or `stop` is called. */
  async run(): Promise<void> {
    while (!this.#stopped && !this.finished && !(this.replaced && (this.#options.yields ?? true))) {
      await this.#connect()
      await sleep(10)
    }
  }

  /** The stream ends at what was sent so far, by this sender or another one of the stream. */
  end(sent = this.sent): number {
    this.#total = Math.max(sent, this.sent, this.acknowledged)
    this.#fill()
    return this.#total
  }

  stop(): void {
    this.#stopped = true
    this.#socket?.terminate()
  }

  #connect(): Promise<void> {
    return new Promise((resolve) => {
      const { wsUrl, deadAfterMs, host } = this.#options
      const options = { handshakeTimeout: 5000, ...(host && { headers: { host } }) }
      const socket = (this.#socket = new WebSocket(`${wsUrl()}/api/live/send`, options))
      this.answers = 0
      this.connections++
      const dead = deadAfterMs ? setTimeout(() => socket.terminate(), deadAfterMs) : null
      socket.on('open', () => this.#hello(socket))
      socket.on('message', (data) => {
        dead?.refresh()
        this.#receive(JSON.parse(data.toString()))
      })
      // The close that follows tells it.
      socket.on('error', () => undefined)
      socket.on('close', (code) => {
        if (dead) clearTimeout(dead)
        this.closeCodes.push(code)
        if (code === 4409) this.replaced = true
        resolve()
      })
    })
  }

  #hello(socket: WebSocket): void {
    const { session, rateHz = 100, startedAtUs = 1_772_386_200_000_000 } = this.#options
    const identity = { session, stream: this.stream }
    socket.send(
      JSON.stringify({ type: 'hello', protocol: 1, ...identity, rateHz, channels: CHANNELS, startedAtUs }),
    )
  }

  #receive(message: ServerToSender): void {
    if (message.type === 'welcome' || message.type === 'ack') {
      this.answers++
      if (message.type === 'welcome') {
        // The server's number wins, but it must never be below what it acknowledged.
        if (message.nextIndex < this.acknowledged) {
          this.problems.push(`acknowledged ${this.acknowledged}, welcomed at ${message.nextIndex}`)
        }
        this.#next = this.welcomedAt = message.nextIndex
      }
      this.acknowledged = Math.max(this.acknowledged, message.nextIndex)
      this.#fill()
    } else if (message.type === 'finished') {
      this.finished = { samples: message.samples }
      this.#socket?.close()
    } else if (message.type === 'error') {
      this.errors.push(message.code)
    }
  }

  #fill(): void {
    const socket = this.#socket
    if (this.answers === 0 || socket?.readyState !== WebSocket.OPEN) return
    const most = this.acknowledged + (CREDIT_FRAMES * MAX_FRAME_SAMPLES) / 2
    while (this.#next < Math.min(this.#total, most)) {
      const count = Math.min(
        1 + Math.floor(this.#random.uniform() * MAX_FRAME_SAMPLES),
        this.#total - this.#next,
      )
      const overlap = this.#random.uniform() < 0.1 ? Math.floor(this.#random.uniform() * 40) : 0
      const from = Math.max(0, this.#next - overlap)
      this.#next += count
      this.sent = Math.max(this.sent, this.#next)
      socket.send(this.frame(from, this.#next - from))
    }
    if (this.#next === this.#total) {
      socket.send(JSON.stringify({ type: 'finish', stream: this.stream, nextIndex: this.#total }))
    }
  }

  /** Samples [firstIndex, firstIndex + count) of this stream as a frame. */
  frame(firstIndex: number, count: number): Uint8Array {
    const { seed, arrivedAtUs } = this.#options
    return encodeFrame({
      firstIndex,
      count,
      channels: CHANNELS,
      encoding: 'float32',
      arrivedAtUs: arrivedAtUs?.(firstIndex + count) ?? Date.now() * 1000,
      values: Array.from({ length: CHANNELS }, (_, axis) =>
        Float64Array.from({ length: count }, (_, i) => truth(seed, axis, firstIndex + i)),
      ),
    })
  }
}
