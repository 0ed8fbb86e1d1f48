import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { NewSession, SessionChangeBody, SessionSummary } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { THIS_COMPUTER } from '../author.ts'
import { checkMount } from './mount.ts'
import { openSession } from './open-session.ts'
import { etagOf, IfMatch, precondition, recordOf, withEtag } from './preconditions.ts'
import { withSaidText } from './said-text.ts'
import { NothingSchema, PROBLEMS, SessionParams } from './schemas.ts'
import { startUs } from './start-time.ts'

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

const sessions: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  const found = async (sessionId: string) => {
    const session = await records.session(sessionId)
    if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
    return session
  }

  const described = async (session: SessionSummary): Promise<SessionSummary> => ({
    ...session,
    notes: await records.sessionNotes(session.id),
    sensorDescription: await records.sensorDescription(session.id),
  })

  const withSender = (session: SessionSummary): SessionSummary =>
    session.state === 'recording'
      ? { ...session, senderConnected: app.hub.senderConnected(session.id) }
      : session

  app.get(
    '/api/sessions',
    {
      schema: {
        description: 'Newest first.',
        querystring: PageQuery,
        response: { 200: Page, ...PROBLEMS },
      },
    },
    async ({ query: { dogId, limit = DEFAULT_PAGE, cursor } }) => {
      const page = await records.sessions({ dogId, limit, cursor })
      return { ...page, sessions: page.sessions.map(withSender) }
    },
  )

  app.post(
    '/api/sessions',
    {
      schema: {
        description:
          'Opens a live session; its samples come over /api/live/send. With an `id` of your own the same ' +
          'call again gives the session that is there (200), 409 when it is of another dog or sensor.',
        body: NewSession,
        response: { 200: withEtag(SessionSummary), 201: withEtag(SessionSummary), ...PROBLEMS },
      },
    },
    async ({ body }, reply) => {
      const { session, opened } = await openSession(records, body)
      if (opened) app.ingest.expectSender(session.id)
      return reply
        .code(opened ? 201 : 200)
        .header('etag', etagOf(session.version))
        .send(await described(session))
    },
  )

  app.get(
    '/api/sessions/:sessionId',
    { schema: { params: SessionParams, response: { 200: withEtag(SessionSummary), ...PROBLEMS } } },
    async ({ params }, reply) => {
      const session = await found(params.sessionId)
      return reply.header('etag', etagOf(session.version)).send(await described(session))
    },
  )

  app.patch(
    '/api/sessions/:sessionId',
    {
      schema: {
        description:
          'Changes what is sent; what is said already changes nothing. Another mount or start analyses the ' +
          'session again before the answer comes; neither can be changed while it is being recorded, the mount ' +
          'not from the first sample on. Lists are in the order of the start.',
        params: SessionParams,
        headers: IfMatch,
        body: SessionChangeBody,
        response: { 200: withEtag(SessionSummary), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId }, headers, body: { startedAt, ...change } }, reply) => {
      const holds = precondition(headers)
      const { mount } = change
      if (mount !== undefined) checkMount(mount)
      const startedAtUs = startedAt === undefined ? undefined : startUs(startedAt)
      const before = await found(sessionId)
      // The device that will record knows best how it sits, and says so before its first sample.
      const isUntouched = before.state === 'recording' && !(await app.store.series.streamOfSession(sessionId))
      const remeasures = startedAtUs !== undefined || (mount !== undefined && !isUntouched)
      if (remeasures && before.state === 'recording') {
        throw new ServerError('SESSION_RECORDING', { sessionId })
      }
      const said = withSaidText(change, 'notes')
      const changed = await records.changeSession(sessionId, { ...said, startedAtUs }, holds, THIS_COMPUTER)
      const missing = () => new ServerError('SESSION_NOT_FOUND', { sessionId })
      const after = recordOf(changed, reply, { missing, versionOf: ({ version }) => version })
      if (isUntouched || (after.mount === before.mount && after.startedAt === before.startedAt)) {
        return described(after)
      }
      await app.ingest.analyseAgain(sessionId)
      return described(await found(sessionId))
    },
  )

  app.post(
    '/api/sessions/:sessionId/finish',
    {
      schema: {
        description:
          'Ends a recording at what is stored, e.g. when its sender is gone for good; answered once it ' +
          'is analysed. Without any samples the session is `failed`. 409 when it is not being recorded.',
        params: SessionParams,
        response: { 200: SessionSummary, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId } }) => {
      await app.ingest.finishStored(sessionId, THIS_COMPUTER)
      return found(sessionId)
    },
  )

  app.delete(
    '/api/sessions/:sessionId',
    { schema: { params: SessionParams, response: { 204: NothingSchema, ...PROBLEMS } } },
    async ({ params: { sessionId } }, reply) => {
      if (!(await records.deleteSession(sessionId, THIS_COMPUTER)))
        throw new ServerError('SESSION_NOT_FOUND', { sessionId })
      await app.ingest.drop(sessionId)
      return reply.code(204).send(null)
    },
  )
}
export default sessions
