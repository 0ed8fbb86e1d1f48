import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { forDogOfSession } from '../access/rules.ts'
import { TraceRefusedError } from '../analysis/jobs.ts'
import { readableInput } from '../analysis/readable-input.ts'
import { storedInput } from '../analysis/stored-input.ts'
import { samplesUnreadable, unreadableParts } from '../analysis/unreadable-parts.ts'
import { ServerError } from '../errors.ts'
import { CorruptBlockError } from '../store/time-series.ts'
import { PROBLEMS, SessionParams } from './schemas.ts'

const TraceQuery = Type.Object({
  unreadable: Type.Optional(
    Type.Literal('leave-out', {
      description:
        'Of a damaged recording gives what can be read: the rest is a gap in time, with a note where it begins. ' +
        'Without it such a recording is refused with 409 SAMPLES_UNREADABLE.',
    }),
  ),
})

/** The stored samples and marks as files that can be uploaded again. */
const traceDownload: FastifyPluginAsyncTypebox = async (app) => {
  const requireInput = async (sessionId: string, unreadable?: 'leave-out') => {
    const session = await app.store.records.session(sessionId)
    if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
    const input = unreadable
      ? (await readableInput(app.store, sessionId))?.input
      : await storedInput(app.store, sessionId).catch(async (cause: unknown) => {
          if (!(cause instanceof CorruptBlockError)) throw cause
          throw samplesUnreadable(sessionId, await unreadableParts(app.store, sessionId), cause)
        })
    if (input) return input
    const parts = await unreadableParts(app.store, sessionId)
    if (parts.length > 0) throw samplesUnreadable(sessionId, parts)
    throw new ServerError('TRACE_NOT_FOUND', { sessionId })
  }

  app.get(
    '/api/sessions/:sessionId/trace.csv',
    {
      config: { access: forDogOfSession('therapist') },
      schema: {
        description: 'Every sample as it came, in m/s² and rad/s, with the marks.',
        params: SessionParams,
        querystring: TraceQuery,
        produces: ['text/csv'],
        response: { 200: Type.String(), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId }, query: { unreadable } }, reply) => {
      const { trace } = await requireInput(sessionId, unreadable)
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
        querystring: TraceQuery,
        produces: ['application/octet-stream'],
        response: { 200: Type.Unsafe<Buffer>({ type: 'string', format: 'binary' }), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId }, query: { unreadable } }, reply) => {
      const { trace, stampResolutionS, clock } = await requireInput(sessionId, unreadable)
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
