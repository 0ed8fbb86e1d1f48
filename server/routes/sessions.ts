import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { NewSession, SessionSummary, SetUp } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { newId } from './ids.ts'
import { NothingSchema, PROBLEMS, SessionParams } from './schemas.ts'

const DEFAULT_PAGE = 50
const MAX_PAGE = 500

const Page = Type.Object({
  sessions: Type.Array(SessionSummary),
  next: Type.Union([Type.String({ description: 'Cursor of the next page' }), Type.Null()]),
})

const PageQuery = Type.Object({
  dogId: Type.Optional(Id),
  limit: Type.Optional(Type.Integer({ minimum: 1, maximum: MAX_PAGE })),
  cursor: Type.Optional(Type.String({ maxLength: 200 })),
})

const Change = Type.Object({ setUp: Type.Union([SetUp, Type.Null()]) }, { additionalProperties: false })

const sessions: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  const found = async (sessionId: string) => {
    const session = await records.session(sessionId)
    if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
    return session
  }

  app.get(
    '/api/sessions',
    {
      schema: {
        description: 'Newest first.',
        querystring: PageQuery,
        response: { 200: Page, ...PROBLEMS },
      },
    },
    ({ query: { dogId, limit = DEFAULT_PAGE, cursor } }) => records.sessions({ dogId, limit, cursor }),
  )

  app.post(
    '/api/sessions',
    {
      schema: {
        description: 'Opens a live session; its samples come over /api/live/send.',
        body: NewSession,
        response: { 201: SessionSummary, ...PROBLEMS },
      },
    },
    async ({ body: { dogId, sensor, setUp } }, reply) => {
      if (!(await records.dog(dogId))) throw new ServerError('DOG_NOT_FOUND', { dogId })
      const id = newId()
      await records.addSession({
        id,
        dogId,
        sensor,
        fileName: null,
        contentHash: null,
        setUp: setUp ?? null,
        state: 'recording',
        startedAtUs: null,
      })
      app.ingest.expectSender(id)
      return reply.code(201).send(await found(id))
    },
  )

  app.get(
    '/api/sessions/:sessionId',
    { schema: { params: SessionParams, response: { 200: SessionSummary, ...PROBLEMS } } },
    ({ params }) => found(params.sessionId),
  )

  app.patch(
    '/api/sessions/:sessionId',
    { schema: { params: SessionParams, body: Change, response: { 200: SessionSummary, ...PROBLEMS } } },
    async ({ params: { sessionId }, body }) => {
      await records.updateSession(sessionId, { setUp: body.setUp })
      return found(sessionId)
    },
  )

  app.delete(
    '/api/sessions/:sessionId',
    { schema: { params: SessionParams, response: { 204: NothingSchema, ...PROBLEMS } } },
    async ({ params: { sessionId } }, reply) => {
      if (!(await records.deleteSession(sessionId))) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
      await app.ingest.drop(sessionId)
      return reply.code(204).send(null)
    },
  )
}
export default sessions
