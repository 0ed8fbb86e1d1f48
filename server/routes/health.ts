import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { ANALYSIS_VERSION } from '#signal/constants'
import { anyone } from '../access/rules.ts'
import type { Config } from '../config.ts'
import { requireMetricsReader } from '../operations/metrics-access.ts'
import { PROBLEMS } from './schemas.ts'

const Health = Type.Object({ status: Type.Literal('ok'), analysisVersion: Type.String() })

const Reason = Type.Object({
  code: Type.String({ description: 'STARTING, STOPPING, DISK_FULL, DISK_READ_ONLY, …' }),
  detail: Type.String({ description: 'What is wrong and what to do, for people' }),
  since: Type.Union([Type.String(), Type.Null()]),
})
const Readiness = Type.Object({
  ready: Type.Boolean(),
  reasons: Type.Array(Reason, { description: 'Why it is not ready' }),
  warnings: Type.Array(Reason, { description: 'What needs attention although all is served' }),
})

/** Liveness, readiness, metrics, and the description of this API. */
const health: FastifyPluginAsyncTypebox<{ config: Config }> = async (app, { config }) => {
  app.get(
    '/api/health',
    {
      config: { access: anyone('says that the process answers, and nothing of anybody'), direct: true },
      schema: { description: 'Liveness: the process answers.', response: { 200: Health } },
    },
    async () => ({ status: 'ok' as const, analysisVersion: ANALYSIS_VERSION }),
  )

  app.get(
    '/api/ready',
    {
      config: { access: anyone('says whether samples can be stored, and nothing of anybody'), direct: true },
      schema: {
        description:
          'Readiness: whether samples and requests should be sent here. 503 with the reasons in words while ' +
          'the server starts or stops, and while its disk takes nothing.',
        response: { 200: Readiness, 503: Readiness },
      },
    },
    async (_request, reply) => {
      const readiness = await app.readiness()
      const { ready, reasons, warnings } = readiness
      return reply.code(ready ? 200 : 503).send({ ready, reasons: [...reasons], warnings: [...warnings] })
    },
  )

  app.get(
    '/api/metrics',
    {
      config: { access: anyone('asks for the token or the keeper itself'), direct: true },
      schema: {
        description:
          'Prometheus text format 0.0.4. For the keeper, or with the token of SWAYBOOK_METRICS_TOKEN_FILE ' +
          'as Bearer.',
        produces: ['text/plain'],
        response: { 200: Type.String(), ...PROBLEMS },
      },
      preHandler: async ({ headers, visitor }) =>
        requireMetricsReader(config.metricsToken, headers.authorization, visitor.person?.keeper ?? false),
    },
    async (_request, reply) => reply.type(app.metrics.contentType).send(await app.metrics.text()),
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
