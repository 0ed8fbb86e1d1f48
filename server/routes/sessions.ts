import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { NewSession, SessionChangeBody, SessionSummary } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { forDogInBody, forDogOfSession, orPairedDevice, SIGNED_IN } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import type { Visitor } from '../access/visitor.ts'
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

  /** A paired phone is told of its session what it records, not what people wrote. */
  const describedTo = (visitor: Visitor, session: SessionSummary) =>
    visitor.person ? described(session) : { ...session, notes: undefined, checkIn: null }

  const withSender = (session: SessionSummary): SessionSummary =>
    session.state === 'recording'
      ? { ...session, senderConnected: app.hub.senderConnected(session.id) }
      : session

  app.get(
    '/api/sessions',
    {
      config: { access: SIGNED_IN },
      schema: {
        description: 'Newest first.',
        querystring: PageQuery,
        response: { 200: Page, ...PROBLEMS },
      },
    },
    async ({ query: { dogId, limit = DEFAULT_PAGE, cursor }, visitor }) => {
      const visibleTo = visitor.person!.id
      const page = await records.sessions({ dogId, limit, cursor, visibleTo })
      return { ...page, sessions: page.sessions.map(withSender) }
    },
  )

  app.post(
    '/api/sessions',
    {
      config: { access: orPairedDevice(forDogInBody('therapist')) },
      schema: {
        description:
          'Opens a live session; its samples come over /api/live/send. With an `id` of your own the same ' +
          'call again gives the session that is there (200), 409 when it is of another dog or sensor.',
        body: NewSession,
        response: { 200: withEtag(SessionSummary), 201: withEtag(SessionSummary), ...PROBLEMS },
      },
    },
    async ({ body, visitor }, reply) => {
      const { session, opened } = await openSession(records, body, authorOf(visitor))
      if (opened) app.ingest.expectSender(session.id)
      return reply
        .code(opened ? 201 : 200)
        .header('etag', etagOf(session.version))
        .send(await describedTo(visitor, session))
    },
  )

  app.get(
    '/api/sessions/:sessionId',
    {
      config: { access: forDogOfSession('viewer') },
      schema: { params: SessionParams, response: { 200: withEtag(SessionSummary), ...PROBLEMS } },
    },
    async ({ params }, reply) => {
      const session = await found(params.sessionId)
      return reply.header('etag', etagOf(session.version)).send(await described(session))
    },
  )

  app.patch(
    '/api/sessions/:sessionId',
    {
      config: { access: orPairedDevice(forDogOfSession('therapist')) },
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
    async ({ params: { sessionId }, headers, body: { startedAt, ...change }, visitor }, reply) => {
      const holds = precondition(headers)
      const { mount } = change
      requireOnlyMount(visitor, { startedAt, ...change })
      if (mount !== undefined) checkMount(mount)
      const startedAtUs = startedAt === undefined ? undefined : startUs(startedAt)
      const before = await found(sessionId)
      // The device that will record knows best how it sits, and says so before its first sample.
      const isUntouched = before.state === 'recording' && !(await app.store.series.streamOfSession(sessionId))
      const remeasures = startedAtUs !== undefined || (mount !== undefined && !isUntouched)
      if (remeasures && before.state === 'recording') {
        throw new ServerError('SESSION_RECORDING', { sessionId })
      }
      if (remeasures) await app.ingest.requireMeasurable(sessionId)
      const said = withSaidText(change, 'notes')
      const changed = await records.changeSession(
        sessionId,
        { ...said, startedAtUs },
        holds,
        authorOf(visitor),
      )
      const missing = () => new ServerError('SESSION_NOT_FOUND', { sessionId })
      const after = recordOf(changed, reply, { missing, versionOf: ({ version }) => version })
      if (isUntouched || (after.mount === before.mount && after.startedAt === before.startedAt)) {
        return describedTo(visitor, after)
      }
      await app.ingest.analyseAgain(sessionId)
      return describedTo(visitor, await found(sessionId))
    },
  )

  app.post(
    '/api/sessions/:sessionId/finish',
    {
      config: { access: forDogOfSession('therapist') },
      schema: {
        description:
          'Ends a recording at what is stored, e.g. when its sender is gone for good; answered once it ' +
          'is analysed. Without any samples the session is `failed`. 409 when it is not being recorded.',
        params: SessionParams,
        response: { 200: SessionSummary, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId }, visitor }) => {
      await app.ingest.finishStored(sessionId, authorOf(visitor))
      return found(sessionId)
    },
  )

  app.delete(
    '/api/sessions/:sessionId',
    {
      config: { access: forDogOfSession('owner') },
      schema: { params: SessionParams, response: { 204: NothingSchema, ...PROBLEMS } },
    },
    async ({ params: { sessionId }, visitor }, reply) => {
      if (!(await records.deleteSession(sessionId, authorOf(visitor))))
        throw new ServerError('SESSION_NOT_FOUND', { sessionId })
      await app.ingest.drop(sessionId)
      return reply.code(204).send(null)
    },
  )
}
export default sessions

/** A paired phone knows how it sits on the dog, and that is all it may say of the session. */
function requireOnlyMount({ person }: Visitor, change: object): void {
  if (person) return
  const others = Object.entries(change).some(([name, value]) => name !== 'mount' && value !== undefined)
  if (others) throw new ServerError('SIGN_IN_FIRST')
}
