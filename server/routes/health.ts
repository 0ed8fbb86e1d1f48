import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { ANALYSIS_VERSION } from '#signal/constants'
import { anyone } from '../access/rules.ts'

const Health = Type.Object({ status: Type.Literal('ok'), analysisVersion: Type.String() })

/** Readiness, and the description of this API. */
const health: FastifyPluginAsyncTypebox = async (app) => {
  app.get(
    '/api/health',
    {
      config: { access: anyone('says that the server is well, and nothing of anybody'), direct: true },
      schema: { response: { 200: Health } },
    },
    async () => {
      await app.store.records.sessionsInState('recording')
      return { status: 'ok' as const, analysisVersion: ANALYSIS_VERSION }
    },
  )

  const document = Type.Object({}, { additionalProperties: true, description: 'OpenAPI 3.1' })
  app.get(
    '/api/openapi.json',
    {
      config: { access: anyone('describes the program, and nothing in it') },
      schema: { response: { 200: document } },
    },
    async () => app.swagger(),
  )
}
export default health
