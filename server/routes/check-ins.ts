import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { CheckIn } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { NothingSchema, PROBLEMS, SessionParams } from './schemas.ts'

const StoredCheckIn = Type.Object({
  answer: CheckIn.properties.answer,
  note: Type.Union([Type.String(), Type.Null()]),
  at: Type.String({ description: 'When it was said, UTC' }),
  version: Type.Integer(),
})
const url = '/api/sessions/:sessionId/check-in'

/** How the dog was on the morning after a session. */
const checkIns: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  const found = async (sessionId: string) => {
    const session = await records.session(sessionId)
    if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
    return session
  }

  app.get(
    url,
    { schema: { params: SessionParams, response: { 200: StoredCheckIn, ...PROBLEMS } } },
    async ({ params: { sessionId } }) => {
      const { checkIn } = await found(sessionId)
      if (!checkIn) throw new ServerError('CHECK_IN_NOT_FOUND', { sessionId })
      return checkIn
    },
  )

  app.put(
    url,
    {
      schema: {
        description: 'Replaces an earlier answer.',
        params: SessionParams,
        body: CheckIn,
        response: { 200: StoredCheckIn, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId }, body }) => {
      const stored = await records.checkIns.set(sessionId, body)
      if (!stored) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
      return stored
    },
  )

  app.delete(
    url,
    { schema: { params: SessionParams, response: { 204: NothingSchema, ...PROBLEMS } } },
    async ({ params: { sessionId } }, reply) => {
      if (!(await records.checkIns.remove(sessionId))) {
        await found(sessionId)
        throw new ServerError('CHECK_IN_NOT_FOUND', { sessionId })
      }
      return reply.code(204).send(null)
    },
  )
}
export default checkIns
