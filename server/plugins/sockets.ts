import type { Socket } from 'node:net'
import websocket from '@fastify/websocket'
import type { Config } from '../config.ts'
import { shared } from './shared.ts'
import { tell } from '../log/tell.ts'

/** How long a closing server waits for the other side's close frame. */
const GOODBYE_MS = 500

/** How long a closing server waits until what senders gave it is on the disk. */
const FAREWELL_MS = 4000

/**
 * How long answers that are under way may take after that. A connection that was being upgraded when the server closed
 * belongs to nobody and would keep it from ending.
 */
const LAST_ANSWERS_MS = 2000

/** WebSocket support. Must be registered before the routes that use it. */
export default shared<{ config: Config }>('sockets', async (app, { config }) => {
  const connections = new Set<Socket>()
  app.server.on('connection', (socket) => {
    connections.add(socket)
    socket.on('close', () => connections.delete(socket))
  })
  await app.register(websocket, {
    options: { maxPayload: config.limits.socketPayloadBytes, perMessageDeflate: false },
    errorHandler: (error, socket, request) => {
      tell(request.log, 'socket.failed', { err: error })
      if (socket.readyState === socket.OPEN) socket.close(1011, 'the server failed')
    },
    preClose(done) {
      const { clients } = app.websocketServer
      const close = () => {
        for (const client of clients) {
          client.close(1001, 'the server is stopping')
          // A paused one would not see the other side close.
          client.resume()
        }
        const impatient = setTimeout(() => {
          for (const client of clients) client.terminate()
        }, GOODBYE_MS)
        app.websocketServer.close(() => {
          clearTimeout(impatient)
          setTimeout(() => connections.forEach((socket) => socket.destroy()), LAST_ANSWERS_MS).unref()
          done()
        })
      }
      void app.lifecycle.stop(FAREWELL_MS).then(close)
    },
  })
})
