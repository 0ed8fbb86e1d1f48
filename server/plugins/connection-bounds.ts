import type { Socket } from 'node:net'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { SharedOut } from '../exposure/shared-out.ts'
import { shared } from './shared.ts'

/**
 * Nobody beyond this computer takes all connections: a bound per address on connections, and one on open WebSockets,
 * which cost most. Behind a proxy all connections are its own, and WebSockets count for the client it names.
 */
export default shared<{ config: Config }>(
  'connection-bounds',
  async (app, { config: { exposure, limits } }) => {
    app.server.maxConnections = limits.connections
    if (exposure === 'this computer') return

    const connections = new SharedOut<Socket>(limits.connectionsPerAddress)
    if (exposure === 'tls') {
      app.server.on('connection', (socket) => {
        // Gone once it is closed.
        const { remoteAddress: address = '' } = socket
        if (!connections.take(address, socket)) return socket.destroy()
        socket.once('close', () => connections.giveBack(address, socket))
      })
    }

    const webSockets = new SharedOut<Socket>(limits.socketsPerAddress)
    app.addHook('onRequest', async ({ ip, headers, raw: { socket } }) => {
      if (headers.upgrade === undefined) return
      if (!webSockets.take(ip, socket))
        throw new ServerError('TOO_MANY_SOCKETS', { limit: limits.socketsPerAddress })
      socket.once('close', () => webSockets.giveBack(ip, socket))
    })
  },
)
