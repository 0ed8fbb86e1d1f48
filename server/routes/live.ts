import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import type { Config } from '../config.ts'
import { SenderSocket } from '../live/sender-socket.ts'
import { watchSession } from '../live/viewer-socket.ts'

/** The two live sockets; what they speak is in server/protocol. */
const live: FastifyPluginAsyncTypebox<{ config: Config }> = async (app, { config }) => {
  const { hub, ingest, store } = app
  const { limits } = config

  app.get('/api/live/send', { websocket: true }, (socket, { log }) => {
    new SenderSocket(socket, ingest, limits, log)
  })

  app.get(
    '/api/live/watch',
    { websocket: true, schema: { querystring: Type.Object({ session: Id }) } },
    (socket, { query, log }) => {
      watchSession(socket, query.session, { hub, ingest, records: store.records, limits, log })
    },
  )
}
export default live
