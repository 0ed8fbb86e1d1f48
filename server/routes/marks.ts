import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id, MarkKindSchema } from '#protocol/messages'
import { NewMark } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { newId } from './ids.ts'
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
    if (!(await records.session(sessionId))) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
  }

  app.get(
    '/api/sessions/:sessionId/marks',
    { schema: { params: SessionParams, response: { 200: Type.Array(MarkSchema), ...PROBLEMS } } },
    async ({ params: { sessionId } }) => {
      await requireSession(sessionId)
      return records.marks(sessionId)
    },
  )

  app.post(
    '/api/sessions/:sessionId/marks',
    {
      schema: {
        description: 'A mark whose id the session has already changes nothing.',
        params: SessionParams,
        body: NewMark,
        response: { 201: MarkSchema, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId }, body }, reply) => {
      await requireSession(sessionId)
      const id = body.id ?? newId()
      await app.ingest.mark(sessionId, { id, atS: body.atS, kind: body.kind, note: body.note ?? null })
      const stored = (await records.marks(sessionId)).find((mark) => mark.id === id)
      if (!stored) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
      return reply.code(201).send(stored)
    },
  )

  app.delete(
    '/api/sessions/:sessionId/marks/:markId',
    { schema: { params: MarkParams, response: { 204: NothingSchema, ...PROBLEMS } } },
    async ({ params: { sessionId, markId } }, reply) => {
      await requireSession(sessionId)
      if (!(await app.ingest.unmark(sessionId, markId))) throw new ServerError('MARK_NOT_FOUND', { markId })
      return reply.code(204).send(null)
    },
  )
}
export default marks
