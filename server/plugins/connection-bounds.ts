import type { Socket } from 'node:net'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { SharedOut } from '../exposure/shared-out.ts'
import { whoAsks } from '../routes/who-asks.ts'
import { shared } from './shared.ts'

/**
 * Nobody beyond this computer takes all connections: a bound per address on connections, and bounds on open
 * WebSockets, which cost most, per address before anybody is looked up and then per person, share link or paired
 * phone. Behind a proxy all connections are its own, and WebSockets count for the client it names.
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

    const hold = (held: SharedOut<Socket>, who: string, socket: Socket, limit: number) => {
      if (!held.take(who, socket)) throw new ServerError('TOO_MANY_SOCKETS', { limit })
      socket.once('close', () => held.giveBack(who, socket))
    }
    const perAddress = limits.socketsEach * limits.peoplePerAddress
    const ofAddresses = new SharedOut<Socket>(perAddress)
    app.addHook('onRequest', async ({ ip, headers, raw: { socket } }) => {
      if (headers.upgrade !== undefined) hold(ofAddresses, ip, socket, perAddress)
    })
    const ofEach = new SharedOut<Socket>(limits.socketsEach)
    app.visitorBounds.push(async (request) => {
      if (request.headers.upgrade === undefined) return
      hold(ofEach, whoAsks(request), request.raw.socket, limits.socketsEach)
    })
  },
)
