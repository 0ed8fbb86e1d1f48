import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { CheckIn } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { forDogOfSession } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import {
  etagOf,
  IfMatch,
  preconditionIfAny,
  Preconditions,
  recordOf,
  requireRemoved,
  withEtag,
} from './preconditions.ts'
import { withSaidText } from './said-text.ts'
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
    {
      config: { access: forDogOfSession('viewer') },
      schema: { params: SessionParams, response: { 200: withEtag(StoredCheckIn), ...PROBLEMS } },
    },
    async ({ params: { sessionId } }, reply) => {
      const { checkIn } = await found(sessionId)
      if (!checkIn) throw new ServerError('CHECK_IN_NOT_FOUND', { sessionId })
      return reply.header('etag', etagOf(checkIn.version)).send(checkIn)
    },
  )

  app.put(
    url,
    {
      config: { access: forDogOfSession('therapist') },
      schema: {
        description:
          'Replaces an earlier answer: with If-Match only the one you read, with If-None-Match: * none, without ' +
          'either whatever is there. The same answer again changes nothing.',
        params: SessionParams,
        headers: Preconditions,
        body: CheckIn,
        response: { 200: withEtag(StoredCheckIn), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId }, headers, body, visitor }, reply) => {
      const holds = preconditionIfAny(headers)
      const changed = await records.checkIns.set(
        sessionId,
        withSaidText(body, 'note'),
        holds,
        authorOf(visitor),
      )
      const missing = () => new ServerError('SESSION_NOT_FOUND', { sessionId })
      return recordOf(changed, reply, { missing, versionOf: ({ version }) => version })
    },
  )

  app.delete(
    url,
    {
      config: { access: forDogOfSession('therapist') },
      schema: {
        description: 'With If-Match only the answer you read.',
        params: SessionParams,
        headers: IfMatch,
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId }, headers, visitor }, reply) => {
      const holds = preconditionIfAny(headers)
      const removed = await records.checkIns.remove(sessionId, holds, authorOf(visitor))
      if (removed.kind === 'missing') await found(sessionId)
      requireRemoved(removed, reply, () => new ServerError('CHECK_IN_NOT_FOUND', { sessionId }))
      return reply.code(204).send(null)
    },
  )
}
export default checkIns
