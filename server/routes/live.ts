import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { ASKED_IN_SOCKET } from '../access/rules.ts'
import { SocketGuard } from '../access/socket-guard.ts'
import type { Visitor } from '../access/visitor.ts'
import type { Config } from '../config.ts'
import { tell } from '../log/tell.ts'
import { SenderSocket } from '../live/sender-socket.ts'
import { watchSession } from '../live/viewer-socket.ts'

/** The two live sockets; what they speak is in server/protocol. */
const live: FastifyPluginAsyncTypebox<{ config: Config }> = async (app, { config }) => {
  const { hub, ingest, store, lifecycle, metrics } = app
  const { limits } = config
  const guardFor = (visitor: Visitor) => new SocketGuard(visitor, app)

  app.get(
    '/api/live/send',
    { config: { access: ASKED_IN_SOCKET }, websocket: true },
    (socket, { visitor, log, ip }) => {
      const sender = new SenderSocket(socket, { ingest, limits, log, guard: guardFor(visitor) })
      const farewell = () => sender.farewell()
      lifecycle.farewells.add(farewell)
      metrics.socketOpened('sender')
      tell(log, 'socket.opened', { socket: 'sender', by: visitor.person?.id, address: ip })
      socket.on('close', (code) => {
        lifecycle.farewells.delete(farewell)
        metrics.socketClosed('sender', code)
        tell(log, 'socket.closed', { socket: 'sender', closeCode: code })
      })
    },
  )

  app.get(
    '/api/live/watch',
    {
      config: { access: ASKED_IN_SOCKET },
      websocket: true,
      schema: { querystring: Type.Object({ session: Id }) },
    },
    (socket, { query, visitor, log, ip }) => {
      metrics.socketOpened('viewer')
      tell(log, 'socket.opened', { socket: 'viewer', by: visitor.person?.id, address: ip })
      socket.on('close', (code) => {
        metrics.socketClosed('viewer', code)
        tell(log, 'socket.closed', { socket: 'viewer', closeCode: code })
      })
      const guard = guardFor(visitor)
      watchSession(socket, query.session, { hub, ingest, records: store.records, limits, log, guard })
    },
  )
}
export default live
