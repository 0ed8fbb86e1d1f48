import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { forDogOfSession } from '../access/rules.ts'
import { TraceRefusedError } from '../analysis/jobs.ts'
import { storedInput } from '../analysis/stored-input.ts'
import { ServerError } from '../errors.ts'
import { PROBLEMS, SessionParams } from './schemas.ts'

/** The stored samples and marks as files that can be uploaded again. */
const traceDownload: FastifyPluginAsyncTypebox = async (app) => {
  const requireInput = async (sessionId: string) => {
    const session = await app.store.records.session(sessionId)
    if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
    const input = await storedInput(app.store, sessionId)
    if (!input) throw new ServerError('TRACE_NOT_FOUND', { sessionId })
    return input
  }

  app.get(
    '/api/sessions/:sessionId/trace.csv',
    {
      config: { access: forDogOfSession('therapist') },
      schema: {
        description: 'Every sample as it came, in m/s² and rad/s, with the marks.',
        params: SessionParams,
        produces: ['text/csv'],
        response: { 200: Type.String(), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId } }, reply) => {
      const { trace } = await requireInput(sessionId)
      const { csv } = await app.pool.run({ kind: 'csv', trace })
      return reply
        .type('text/csv; charset=utf-8')
        .header('content-disposition', attachment(sessionId, 'csv'))
        .send(csv)
    },
  )

  app.get(
    '/api/sessions/:sessionId/trace.edf',
    {
      config: { access: forDogOfSession('therapist') },
      schema: {
        description:
          'EDF+, as programs for biosignals read it: samples on the even time grid they are measured on, ' +
          'as 16-bit integers over the range of each signal; gaps as EDF+D, marks as annotations, the ' +
          'start in UTC. 422 when the recording is too short for it.',
        params: SessionParams,
        produces: ['application/octet-stream'],
        response: { 200: Type.Unsafe<Buffer>({ type: 'string', format: 'binary' }), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId } }, reply) => {
      const { trace, stampResolutionS, clock } = await requireInput(sessionId)
      const job = { kind: 'edf', trace, stampResolutionS, clock } as const
      const { edf } = await app.pool.run(job).catch((cause: Error) => {
        if (!(cause instanceof TraceRefusedError)) throw cause
        throw new ServerError('TRACE_NOT_EXPORTABLE', { reason: cause.message }, { cause })
      })
      return reply
        .type('application/octet-stream')
        .header('content-disposition', attachment(sessionId, 'edf'))
        .send(Buffer.from(edf.buffer, edf.byteOffset, edf.byteLength))
    },
  )
}
export default traceDownload

function attachment(sessionId: string, extension: string): string {
  return `attachment; filename="swaybook-${sessionId}.${extension}"`
}
