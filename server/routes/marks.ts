import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id, MarkKindSchema } from '#protocol/messages'
import { NewMark } from '#protocol/resources'
import type { SessionSummary } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { shownS, storedS } from '../store/time-axis.ts'
import { forDogOfSession } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { requireWithin } from './beyond-end.ts'
import { newId } from './ids.ts'
import { saidText } from './said-text.ts'
import { NothingSchema, PROBLEMS, SessionParams } from './schemas.ts'

const MarkSchema = Type.Object({
  id: Id,
  atS: Type.Number(),
  kind: MarkKindSchema,
  note: Type.Union([Type.String(), Type.Null()]),
})
const MarkParams = Type.Object({ ...SessionParams.properties, markId: Id })

/** Marks of a session. A change to a finished session is answered once it is analysed again. */
const marks: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  const requireSession = async (sessionId: string) => {
    const session = await records.session(sessionId)
    if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
    return session
  }

  /** Marks and the scale of the axis people see them on: nominal seconds while recording. */
  const shown = async ({ id, state }: SessionSummary) => {
    const scale = state === 'recording' ? 1 : await records.timeScale(id)
    const marks = (await records.marks(id)).map((mark) => ({ ...mark, atS: shownS(mark.atS, scale) }))
    return { scale, marks }
  }

  app.get(
    '/api/sessions/:sessionId/marks',
    {
      config: { access: forDogOfSession('viewer') },
      schema: {
        description:
          'All marks in the order of their time: in seconds of the stream while recording, on the axis of ' +
          'the report after.',
        params: SessionParams,
        response: { 200: Type.Array(MarkSchema), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId } }) => {
      return (await shown(await requireSession(sessionId))).marks
    },
  )

  app.post(
    '/api/sessions/:sessionId/marks',
    {
      config: { access: forDogOfSession('therapist') },
      schema: {
        description:
          'A mark at `atS` seconds from the start; one whose id the session has already changes nothing. ' +
          'A finished session is analysed again before the answer comes, and a mark beyond its end is ' +
          'refused with 422.',
        params: SessionParams,
        body: NewMark,
        response: { 201: MarkSchema, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId }, body, visitor }, reply) => {
      const session = await requireSession(sessionId)
      const id = body.id ?? newId()
      const { scale, marks } = await shown(session)
      if (!marks.some((mark) => mark.id === id)) requireWithin(session, body.atS)
      const atS = storedS(body.atS, scale)
      const mark = { id, atS, kind: body.kind, note: saidText(body.note ?? null) }
      await app.ingest.mark(sessionId, mark, { by: authorOf(visitor) })
      const stored = (await shown(session)).marks.find((mark) => mark.id === id)
      if (!stored) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
      return reply.code(201).send(stored)
    },
  )

  app.delete(
    '/api/sessions/:sessionId/marks/:markId',
    {
      config: { access: forDogOfSession('therapist') },
      schema: {
        description: 'Removes a mark; a finished session is analysed again before the answer comes.',
        params: MarkParams,
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId, markId }, visitor }, reply) => {
      await requireSession(sessionId)
      if (!(await app.ingest.unmark(sessionId, markId, authorOf(visitor))))
        throw new ServerError('MARK_NOT_FOUND', { markId })
      return reply.code(204).send(null)
    },
  )
}
export default marks
