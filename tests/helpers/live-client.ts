import { onTestFinished } from 'vitest'
import { WebSocket } from 'ws'
import type { ClientOptions } from 'ws'
import { encodeFrame } from '#protocol/frames'
import type { Hello, ServerToSender, ServerToViewer } from '#protocol/messages'

type Message = ServerToSender | ServerToViewer

/** A WebSocket that keeps what it received and lets a test wait for it. */
export class LiveClient<Received extends Message = Message> {
  readonly socket: WebSocket
  readonly received: Received[] = []
  readonly closed: Promise<{ code: number; reason: string }>
  readonly #waiting = new Set<() => void>()

  constructor(url: string, options: ClientOptions = {}) {
    this.socket = new WebSocket(url, options)
    this.closed = new Promise((resolve) => {
      this.socket.on('close', (code, reason) => resolve({ code, reason: reason.toString() }))
    })
    // A refused upgrade or a cut shows as the close that follows.
    this.socket.on('error', () => undefined)
    this.socket.on('message', (data) => {
      this.received.push(JSON.parse(data.toString()))
      for (const check of this.#waiting) check()
    })
    onTestFinished(() => this.socket.terminate())
  }

  async opened(): Promise<this> {
    if (this.socket.readyState === WebSocket.OPEN) return this
    await new Promise<void>((resolve, reject) => {
      this.socket.once('open', resolve)
      this.socket.once('error', reject)
    })
    return this
  }

  send(message: unknown): void {
    this.socket.send(typeof message === 'string' ? message : JSON.stringify(message))
  }

  /** The first message (received already, or yet to come) of a type that fits. */
  next<Type extends Received['type']>(
    type: Type,
    fits: (message: Extract<Received, { type: Type }>) => boolean = () => true,
  ): Promise<Extract<Received, { type: Type }>> {
    type Wanted = Extract<Received, { type: Type }>
    const find = () =>
      this.received.find((message): message is Wanted => message.type === type && fits(message as Wanted))
    return new Promise((resolve, reject) => {
      const check = () => {
        const found = find()
        if (!found) return
        this.#waiting.delete(check)
        resolve(found)
      }
      this.#waiting.add(check)
      check()
      void this.closed.then(({ code }) => {
        reject(
          new Error(`closed with ${code} before ${type}; got ${JSON.stringify(this.received.slice(-3))}`),
        )
      })
    })
  }

  all<Type extends Received['type']>(type: Type): Extract<Received, { type: Type }>[] {
    return this.received.filter(
      (message): message is Extract<Received, { type: Type }> => message.type === type,
    )
  }
}

export const STREAM = 'stream-1'

export function helloMessage(session: string, changes: Partial<Hello> = {}): Hello {
  return {
    type: 'hello',
    protocol: 1,
    session,
    stream: STREAM,
    rateHz: 100,
    channels: 3,
    startedAtUs: 1_772_386_200_000_000,
    ...changes,
  }
}

/** A sender that has been welcomed. */
export async function welcomedSender(
  wsUrl: string,
  session: string,
  changes: Partial<Hello> = {},
): Promise<{ sender: LiveClient<ServerToSender>; nextIndex: number }> {
  const sender = await new LiveClient<ServerToSender>(`${wsUrl}/api/live/send`).opened()
  sender.send(helloMessage(session, changes))
  const { nextIndex } = await sender.next('welcome')
  return { sender, nextIndex }
}

/** What sample `i` of the test stream reads: exact in float32, different on every axis. */
export function testSample(i: number): [number, number, number] {
  return [(i % 256) / 64, ((i * 7) % 256) / 64 - 2, 9.75 + ((i * 13) % 32) / 64]
}

/** A frame of the test stream, or of `values` given. */
export function frame(firstIndex: number, count: number, values?: readonly Float64Array[]): Uint8Array {
  const columns =
    values?.map((column) => column.slice(firstIndex, firstIndex + count)) ??
    [0, 1, 2].map((axis) => Float64Array.from({ length: count }, (_, i) => testSample(firstIndex + i)[axis]))
  return encodeFrame({
    firstIndex,
    count,
    channels: columns.length as 3 | 6,
    encoding: 'float32',
    arrivedAtUs: Date.now() * 1000,
    values: columns,
  })
}

export function lostFrame(firstIndex: number, count: number): Uint8Array {
  const values: Float64Array[] = []
  return encodeFrame({ firstIndex, count, channels: 3, encoding: 'lost', arrivedAtUs: 0, values })
}
