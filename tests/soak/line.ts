import { connect, createServer } from 'node:net'
import type { AddressInfo, Socket } from 'node:net'
import { once } from 'node:events'

/** As many homes as there are streams: the server bounds calls per address. */
const ADDRESSES = process.platform === 'linux' ? 200 : 1

interface Way {
  readonly from: Socket
  readonly to: Socket
  /** Nothing of it arrives any more, and neither end is told. */
  isDead: boolean
  /** Pieces on a slow line, in order. */
  readonly waiting: { readonly data: Buffer; readonly releaseMs: number }[]
}

/**
 * The network between one home and the server: a TCP proxy on loopback. It can be cut (connections break,
 * new ones are refused), can swallow (connections stay, what they carry is gone) and can be slow.
 */
export class Line {
  readonly #server = createServer((client) => this.#accept(client))
  readonly #targetPort: number
  readonly #localAddress: string | undefined
  readonly #ways = new Set<Way>()
  readonly #sockets = new Set<Socket>()
  #isCut = false
  #isSilent = false
  #delayMs = 0

  private constructor(slot: number, targetPort: number) {
    this.#targetPort = targetPort
    this.#localAddress = ADDRESSES > 1 ? `127.0.1.${1 + (slot % ADDRESSES)}` : undefined
  }

  static async before(targetPort: number, slot: number): Promise<Line> {
    const line = new Line(slot, targetPort)
    line.#server.listen(0, '127.0.0.1')
    await once(line.#server, 'listening')
    return line
  }

  get port(): number {
    return (this.#server.address() as AddressInfo).port
  }

  /** Gives how many connections it broke. */
  cut(): number {
    this.#isCut = true
    return this.#breakAll()
  }

  /** What is connected now goes silent for good, and so does whatever connects until `restore`. */
  swallow(): number {
    this.#isSilent = true
    for (const way of this.#ways) way.isDead = true
    return Math.ceil(this.#ways.size / 2)
  }

  slow(delayMs: number): number {
    this.#delayMs = delayMs
    return Math.ceil(this.#ways.size / 2)
  }

  restore(): void {
    this.#isCut = this.#isSilent = false
    this.#delayMs = 0
  }

  async close(): Promise<void> {
    this.#isCut = true
    this.#breakAll()
    await new Promise((resolve) => this.#server.close(resolve))
  }

  #breakAll(): number {
    const broken = Math.ceil(this.#ways.size / 2)
    for (const socket of this.#sockets) socket.resetAndDestroy()
    return broken
  }

  #accept(client: Socket): void {
    // A broken line is the point of it: the close that follows tells it.
    client.on('error', () => undefined)
    if (this.#isCut) {
      client.resetAndDestroy()
      return
    }
    const server = connect({ port: this.#targetPort, host: '127.0.0.1', localAddress: this.#localAddress })
    server.on('error', () => undefined)
    server.setNoDelay(true)
    client.setNoDelay(true)
    this.#join(client, server)
    this.#join(server, client)
  }

  #join(from: Socket, to: Socket): void {
    const way: Way = { from, to, isDead: this.#isSilent, waiting: [] }
    this.#ways.add(way)
    this.#sockets.add(from)
    from.on('data', (data) => this.#pass(way, data))
    from.on('close', () => {
      this.#ways.delete(way)
      this.#sockets.delete(from)
      // Whoever is cut off by silence does not learn that the other one hung up.
      if (!way.isDead) to.destroy()
    })
  }

  #pass(way: Way, data: Buffer): void {
    if (way.isDead) return
    if (this.#delayMs === 0 && way.waiting.length === 0) return write(way, data)
    const last = way.waiting.at(-1)
    const releaseMs = Math.max(last?.releaseMs ?? 0, performance.now() + this.#delayMs)
    way.waiting.push({ data, releaseMs })
    if (!last) releaseNext(way)
  }
}

/** One timer per way: several might fire out of order. */
function releaseNext(way: Way): void {
  const [next] = way.waiting
  const waitMs = next.releaseMs - performance.now()
  setTimeout(() => {
    write(way, next.data)
    way.waiting.shift()
    if (way.waiting.length > 0) releaseNext(way)
  }, waitMs)
}

/** Holds the sending end back as far as the receiving end does. */
function write({ from, to, isDead }: Way, data: Buffer): void {
  if (isDead || to.destroyed) return
  if (to.write(data) || from.isPaused()) return
  from.pause()
  to.once('drain', () => from.resume())
}
