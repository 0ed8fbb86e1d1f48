import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { storedInput } from '../analysis/stored-input.ts'
import { ServerError } from '../errors.ts'
import { PROBLEMS, SessionParams } from './schemas.ts'

/** The stored samples and marks as a file that can be uploaded again. */
const traceDownload: FastifyPluginAsyncTypebox = async (app) => {
  app.get(
    '/api/sessions/:sessionId/trace.csv',
    {
      schema: {
        params: SessionParams,
        produces: ['text/csv'],
        response: { 200: Type.String(), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId } }, reply) => {
      const session = await app.store.records.session(sessionId)
      if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
      const input = await storedInput(app.store, sessionId)
      if (!input) throw new ServerError('TRACE_NOT_FOUND', { sessionId })
      const { csv } = await app.pool.run({ kind: 'csv', trace: input.trace })
      return reply
        .type('text/csv; charset=utf-8')
        .header('content-disposition', `attachment; filename="swaybook-${sessionId}.csv"`)
        .send(csv)
    },
  )
}
export default traceDownload
