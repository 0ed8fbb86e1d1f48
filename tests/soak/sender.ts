import { WebSocket } from 'ws'
import { encodeFrame } from '#protocol/frames'
import type { ServerToSender } from '#protocol/messages'
import { CHANNELS, RATE_HZ } from '../bench/live/waveform.ts'
import { BackOff } from './back-off.ts'
import { Outbox } from './outbox.ts'
import type { KeptPacket } from './outbox.ts'
import type { SensorMark } from './sensor.ts'
import { encodingOf, INT16_SCALE, truthOf } from './truth.ts'
import type { RecordingKey } from './truth.ts'

/** Frames on their way at most; what is above waits in the outbox. */
const CREDIT_FRAMES = 200
/** With no word for so long the line is taken for dead, ms: acknowledgements come five times a second… */
const DEAD_AFTER_MS = 4000
/** …but a server that has just started, or that analyses what was sent, takes its time. */
const PATIENCE_MS = 30_000
/** After these closes trying again would fail again: none of them may come. */
const REFUSED: readonly number[] = [1007, 1008, 1009, 4409]
/** How often a sender repeats all it keeps, whatever of it the server said it has. */
const REPEATS = 0.3

export interface SenderOptions {
  readonly key: RecordingKey
  readonly session: string
  readonly stream: string
  readonly port: number
  readonly headers: Readonly<Record<string, string>>
  readonly startedAtUs: number
  violation(text: string): void
}

/** The bridge of one sensor during one recording: keeps what is not acknowledged and comes back, always. */
export class Sender {
  readonly #options: SenderOptions
  readonly #truth: (channel: number, index: number) => number
  readonly #outbox = new Outbox()
  readonly #marks = new Map<string, SensorMark>()
  readonly #confirmed: SensorMark[] = []
  readonly #backOff = new BackOff()
  #socket: WebSocket | null = null
  #dead: NodeJS.Timeout | undefined
  #isWelcome = false
  #total: number | null = null
  #othersDone = false
  #hasAskedFinish = false
  acknowledged = 0
  connections = 0
  sentTwice = 0
  finishedSamples: number | null = null

  constructor(options: SenderOptions) {
    this.#options = options
    this.#truth = truthOf(options.key)
  }

  get isConnected(): boolean {
    return this.#isWelcome
  }

  get confirmedMarks(): readonly SensorMark[] {
    return this.#confirmed
  }

  get unconfirmedMarks(): number {
    return this.#marks.size
  }

  take(packet: KeptPacket): void {
    this.#outbox.add(packet)
    this.#pump()
  }

  mark(mark: SensorMark): void {
    this.#marks.set(mark.id, mark)
    if (this.#isWelcome) this.#sendMark(mark)
  }

  /** The sensor has stopped after `total` samples. */
  end(total: number): void {
    this.#total = total
    this.#pump()
  }

  /** What others have to say about the session is said: it may be finished. */
  allowFinish(): void {
    this.#othersDone = true
    this.#pump()
  }

  /** Connects until the server has confirmed the end. */
  async run(): Promise<void> {
    while (this.finishedSamples === null) {
      const code = await this.#connect()
      if (this.finishedSamples === null && REFUSED.includes(code)) {
        this.#violation(`the server refused it with close code ${code}`)
      }
      await this.#backOff.wait()
    }
  }

  #connect(): Promise<number> {
    return new Promise((resolve) => {
      const { port, headers } = this.#options
      const url = `ws://127.0.0.1:${port}/api/live/send`
      const socket = new WebSocket(url, { headers, perMessageDeflate: false, handshakeTimeout: 5000 })
      this.#socket = socket
      this.#isWelcome = this.#hasAskedFinish = false
      this.#expectWord(PATIENCE_MS)
      socket.on('open', () => {
        const { key, session, stream, startedAtUs } = this.#options
        const identity = { session, stream, rateHz: RATE_HZ, channels: CHANNELS, startedAtUs }
        this.#say({ type: 'hello', protocol: 1, ...identity, ...resolutionOf(key) })
      })
      socket.on('message', (data) => {
        this.#expectWord(this.#hasAskedFinish ? PATIENCE_MS : DEAD_AFTER_MS)
        this.#receive(JSON.parse(data.toString()) as ServerToSender)
      })
      // Every failure is followed by a close.
      socket.on('error', () => undefined)
      socket.on('close', (code) => {
        clearTimeout(this.#dead)
        this.#isWelcome = false
        resolve(code)
      })
    })
  }

  #expectWord(withinMs: number): void {
    clearTimeout(this.#dead)
    this.#dead = setTimeout(() => this.#socket?.terminate(), withinMs)
  }

  #receive(message: ServerToSender): void {
    switch (message.type) {
      case 'welcome':
        return this.#welcome(message.nextIndex)
      case 'ack':
        this.#acknowledge(message.nextIndex)
        return this.#pump()
      case 'marked': {
        const mark = this.#marks.get(message.id)
        if (mark) this.#confirmed.push(mark)
        this.#marks.delete(message.id)
        return this.#pump()
      }
      case 'finished':
        if (message.samples !== this.#total) {
          this.#violation(`finished with ${message.samples} samples of ${this.#total}`)
        }
        this.#acknowledge(message.samples)
        this.finishedSamples = message.samples
        return this.#socket?.close()
      case 'error':
        // A server that failed (1011) may be asked again; anything else says that one of the two is wrong.
        if (message.code !== 'STORE_FAILED') this.#violation(`error ${message.code}: ${message.message}`)
    }
  }

  #welcome(nextIndex: number): void {
    this.connections++
    this.#backOff.reset()
    this.#isWelcome = true
    if (nextIndex < this.acknowledged) {
      this.#violation(`acknowledged up to ${this.acknowledged}, welcomed at ${nextIndex}`)
    }
    const from = this.#outbox.rewind(Math.random() < REPEATS ? 0 : nextIndex) ?? this.acknowledged
    this.sentTwice += Math.max(0, nextIndex - from)
    // What was acknowledged is forgotten and cannot be sent again: the stream goes on with a hole in it.
    if (from > nextIndex) this.#sendLost(nextIndex, from - nextIndex, Date.now() * 1000)
    this.#acknowledge(nextIndex, { keep: true })
    for (const mark of this.#marks.values()) this.#sendMark(mark)
    this.#pump()
  }

  #acknowledge(nextIndex: number, { keep = false } = {}): void {
    this.acknowledged = Math.max(this.acknowledged, nextIndex)
    // What is being repeated may be forgotten once it has gone out again.
    if (!keep) this.#outbox.forget(nextIndex)
  }

  #pump(): void {
    if (!this.#isWelcome || this.#socket?.readyState !== WebSocket.OPEN) return
    while (this.#outbox.sent < CREDIT_FRAMES) {
      const packet = this.#outbox.take()
      if (!packet) break
      this.#sendPacket(packet)
    }
    const isAllSaid = this.#outbox.isSent && this.#marks.size === 0 && this.#othersDone
    if (this.#total !== null && isAllSaid && !this.#hasAskedFinish) {
      this.#hasAskedFinish = true
      this.#expectWord(PATIENCE_MS)
      this.#say({ type: 'finish', stream: this.#options.stream, nextIndex: this.#total })
    }
  }

  #sendPacket({ firstIndex, count, isLost, arrivedAtUs }: KeptPacket): void {
    if (isLost) return this.#sendLost(firstIndex, count, arrivedAtUs)
    const values = Array.from({ length: CHANNELS }, (_, channel) =>
      Float64Array.from({ length: count }, (_, i) => this.#truth(channel, firstIndex + i)),
    )
    const encoding = encodingOf(this.#options.key)
    const frame = { firstIndex, count, channels: CHANNELS, encoding, arrivedAtUs, values } as const
    this.#socket?.send(encodeFrame(frame, INT16_SCALE))
  }

  #sendLost(firstIndex: number, count: number, arrivedAtUs: number): void {
    const frame = { firstIndex, count, channels: CHANNELS, encoding: 'lost', arrivedAtUs } as const
    this.#socket?.send(encodeFrame({ ...frame, values: [] }))
  }

  #sendMark({ id, atS, kind, note }: SensorMark): void {
    this.#say({ type: 'mark', id, atS, kind, ...(note !== null && { note }) })
  }

  #say(message: object): void {
    this.#socket?.send(JSON.stringify(message))
  }

  #violation(text: string): void {
    this.#options.violation(`stream ${this.#options.stream}: ${text}`)
  }
}

function resolutionOf(key: RecordingKey): { resolutionMs2?: number } {
  return encodingOf(key) === 'int16' ? { resolutionMs2: INT16_SCALE.accMs2PerCount } : {}
}
