import websocket from '@fastify/websocket'
import type { Config } from '../config.ts'
import { shared } from './shared.ts'

/** How long a closing server waits for the other side's close frame. */
const GOODBYE_MS = 500

/** WebSocket support. Must be registered before the routes that use it. */
export default shared<{ config: Config }>('sockets', async (app, { config }) => {
  await app.register(websocket, {
    options: { maxPayload: config.limits.socketPayloadBytes, perMessageDeflate: false },
    errorHandler: (error, socket, request) => {
      request.log.info({ err: error }, 'socket error')
      if (socket.readyState === socket.OPEN) socket.close(1011, 'the server failed')
    },
    preClose(done) {
      const { clients } = app.websocketServer
      for (const client of clients) client.close(1001, 'the server is stopping')
      const impatient = setTimeout(() => {
        for (const client of clients) client.terminate()
      }, GOODBYE_MS)
      app.websocketServer.close(() => {
        clearTimeout(impatient)
        done()
      })
    },
  })
})
