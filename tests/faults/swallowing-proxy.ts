import { connect, createServer } from 'node:net'
import type { AddressInfo, Socket } from 'node:net'
import { once } from 'node:events'
import { onTestFinished } from 'vitest'

export interface SwallowingProxy {
  readonly wsUrl: string
  /** From now on bytes of the connections there are vanish, in one or both directions; nothing is closed. */
  swallow(directions: { toServer: boolean; toClient: boolean }): void
  /** Connections made since the proxy began. */
  readonly connections: number
}

/** A TCP proxy that can go silent, as a pulled cable or a phone out of reach does. New connections work. */
export async function swallowingProxy(targetUrl: string): Promise<SwallowingProxy> {
  const { hostname, port } = new URL(targetUrl)
  const sockets = new Set<Socket>()
  let connections = 0
  const pipes: { client: Socket; server: Socket; toServer: boolean; toClient: boolean }[] = []
  const proxy = createServer((client) => {
    connections++
    const server = connect(Number(port), hostname)
    const pipe = { client, server, toServer: true, toClient: true }
    pipes.push(pipe)
    for (const socket of [client, server]) {
      sockets.add(socket)
      // A cut connection is the point of it.
      socket.on('error', () => undefined)
    }
    client.on('data', (bytes) => void (pipe.toServer && server.write(bytes)))
    server.on('data', (bytes) => void (pipe.toClient && client.write(bytes)))
    // Neither side learns that the other went away while the line is dead.
    client.on('close', () => void (pipe.toServer && server.destroy()))
    server.on('close', () => void (pipe.toClient && client.destroy()))
  })
  proxy.listen(0, '127.0.0.1')
  await once(proxy, 'listening')
  onTestFinished(() => {
    proxy.close()
    for (const socket of sockets) socket.destroy()
  })
  return {
    wsUrl: `ws://127.0.0.1:${(proxy.address() as AddressInfo).port}`,
    swallow({ toServer, toClient }) {
      for (const pipe of pipes) {
        if (toServer) pipe.toServer = false
        if (toClient) pipe.toClient = false
      }
    },
    get connections() {
      return connections
    },
  }
}
