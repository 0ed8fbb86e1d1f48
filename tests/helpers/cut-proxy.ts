import { createServer, connect } from 'node:net'
import type { AddressInfo, Socket } from 'node:net'

/** What becomes of the bytes: on their way, connections broken and refused, or swallowed without a word. */
export type Line = 'through' | 'cut' | 'swallow'

/**
 * A TCP proxy before a server on loopback, to take its clients' network away. The server answers to
 * its own address only, so the port in what clients send is replaced; both have five digits.
 */
export class CutProxy {
  readonly #server = createServer((client) => this.#accept(client))
  readonly #pairs = new Set<Socket>()
  readonly #swallowed = new Set<Socket>()
  readonly #targetPort: number
  line: Line = 'through'

  private constructor(targetPort: number) {
    this.#targetPort = targetPort
  }

  static async before(serverUrl: string): Promise<CutProxy> {
    const proxy = new CutProxy(Number(new URL(serverUrl).port))
    await new Promise<void>((resolve) => proxy.#server.listen(0, '127.0.0.1', resolve))
    return proxy
  }

  get url(): string {
    return `http://127.0.0.1:${this.#port}`
  }

  /** Breaks what there is and refuses what comes. */
  cut(): void {
    this.line = 'cut'
    for (const socket of this.#pairs) socket.destroy()
  }

  /** Bytes go through again; a connection some of whose bytes are gone is dead. */
  restore(): void {
    this.line = 'through'
    for (const socket of this.#swallowed) socket.destroy()
    this.#swallowed.clear()
  }

  async close(): Promise<void> {
    this.cut()
    await new Promise((resolve) => this.#server.close(resolve))
  }

  get #port(): number {
    return (this.#server.address() as AddressInfo).port
  }

  #accept(client: Socket): void {
    if (this.line === 'cut') {
      client.resetAndDestroy()
      return
    }
    const server = connect(this.#targetPort, '127.0.0.1')
    const ownAddress = Buffer.from(`127.0.0.1:${this.#port}`)
    const serverAddress = Buffer.from(`127.0.0.1:${this.#targetPort}`)
    client.on('data', (data) => this.#pass(renamed(data, ownAddress, serverAddress), server))
    server.on('data', (data) => this.#pass(data, client))
    for (const [socket, other] of [
      [client, server],
      [server, client],
    ]) {
      this.#pairs.add(socket)
      // A broken line shows as the close that follows.
      socket.on('error', () => undefined)
      socket.on('close', () => {
        this.#pairs.delete(socket)
        // Whoever is cut off by silence does not learn that the other one hung up.
        if (this.line !== 'swallow') other.destroy()
      })
    }
  }

  #pass(data: Buffer, to: Socket): void {
    if (this.line === 'swallow') this.#swallowed.add(to)
    else if (!to.destroyed) to.write(data)
  }
}

function renamed(data: Buffer, from: Buffer, to: Buffer): Buffer {
  if (from.length !== to.length) throw new Error('both ports need the same number of digits')
  for (let at = data.indexOf(from); at >= 0; at = data.indexOf(from, at + 1)) to.copy(data, at)
  return data
}
