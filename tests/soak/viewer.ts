import { WebSocket } from 'ws'
import type { ServerToViewer } from '#protocol/messages'
import { BackOff } from './back-off.ts'
import { nowMs } from './now.ts'
import type { SensorMark } from './sensor.ts'

const PING_EVERY_MS = 2000
/** With no word for this long, pings unanswered, a viewer connects anew, ms. */
const DEAD_AFTER_MS = 10_000
const REFUSED: readonly number[] = [1007, 1008, 1009]

export interface ViewerOptions {
  readonly session: string
  readonly port: number
  readonly headers: Readonly<Record<string, string>>
  violation(text: string): void
  /** A window came, so many ms after its newest sample reached the sender. */
  window(latencyMs: number): void
  /** A mark of this viewer is stored. */
  marked(): void
}

/** A screen that watches one session until it is told the end, and sets marks now and then. */
export class Viewer {
  readonly #options: ViewerOptions
  readonly #backOff = new BackOff()
  readonly #marks = new Map<string, SensorMark>()
  readonly #confirmed: SensorMark[] = []
  #socket: WebSocket | null = null
  #newestEndS = 0
  #isStopped = false
  sawEnd = false

  constructor(options: ViewerOptions) {
    this.#options = options
  }

  get isConnected(): boolean {
    return this.#socket?.readyState === WebSocket.OPEN
  }

  get confirmedMarks(): readonly SensorMark[] {
    return this.#confirmed
  }

  get unconfirmedMarks(): number {
    return this.#marks.size
  }

  mark(mark: SensorMark): void {
    this.#marks.set(mark.id, mark)
    if (this.isConnected) this.#sendMark(mark)
  }

  async run(): Promise<void> {
    while (!this.sawEnd && !this.#isStopped) {
      const code = await this.#connect()
      if (!this.sawEnd && REFUSED.includes(code)) this.#violation(`refused with close code ${code}`)
      await this.#backOff.wait()
    }
  }

  stop(): void {
    this.#isStopped = true
    this.#socket?.terminate()
  }

  #connect(): Promise<number> {
    return new Promise((resolve) => {
      const { session, port, headers } = this.#options
      const url = `ws://127.0.0.1:${port}/api/live/watch?session=${session}`
      const socket = new WebSocket(url, { headers, perMessageDeflate: false, handshakeTimeout: 5000 })
      this.#socket = socket
      const dead = setTimeout(() => socket.terminate(), DEAD_AFTER_MS)
      const pings = setInterval(() => {
        if (this.isConnected) this.#say({ type: 'ping', sentAtUs: Date.now() * 1000 })
      }, PING_EVERY_MS)
      this.#newestEndS = 0
      socket.on('open', () => {
        for (const mark of this.#marks.values()) this.#sendMark(mark)
      })
      socket.on('message', (data) => {
        dead.refresh()
        this.#receive(JSON.parse(data.toString()) as ServerToViewer)
      })
      // Every failure is followed by a close.
      socket.on('error', () => undefined)
      socket.on('close', (code) => {
        clearTimeout(dead)
        clearInterval(pings)
        resolve(code)
      })
    })
  }

  #receive(message: ServerToViewer): void {
    switch (message.type) {
      case 'snapshot':
        this.#backOff.reset()
        this.#newestEndS = message.window?.endS ?? 0
        return
      case 'window': {
        const { endS } = message.window
        if (endS <= this.#newestEndS)
          this.#violation(`a window to ${endS} s after one to ${this.#newestEndS} s`)
        this.#newestEndS = endS
        this.#options.window(nowMs() - message.sampleArrivedAtUs / 1000)
        return
      }
      case 'marked': {
        const mark = this.#marks.get(message.id)
        if (mark) this.#confirmed.push(mark)
        this.#marks.delete(message.id)
        return this.#options.marked()
      }
      case 'ended':
        this.sawEnd = true
        return this.#socket?.close()
      case 'error':
        this.#violation(`error ${message.code}: ${message.message}`)
    }
  }

  #sendMark({ id, atS, kind, note }: SensorMark): void {
    this.#say({ type: 'mark', id, atS, kind, ...(note !== null && { note }) })
  }

  #say(message: object): void {
    this.#socket?.send(JSON.stringify(message))
  }

  #violation(text: string): void {
    this.#options.violation(`viewer of ${this.#options.session}: ${text}`)
  }
}
