import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import {
  MAX_SHARE_DAYS,
  NewShare,
  OpenShare,
  Share,
  ShareMade,
  SharedSession,
  ShareOpened,
} from '#protocol/people'
import type { SharedReport } from '#protocol/people'
import { hashOf, newSecret } from '../access/cookies.ts'
import { anyone, forDog, forShare } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import { deviceName } from '../people/device-name.ts'
import { shareScope } from '../people/share-scope.ts'
import { sharedOf } from '../people/shared-of.ts'
import { sharedReport } from '../people/shared-report.ts'
import { newId } from './ids.ts'
import { DogParams, NothingSchema, PROBLEMS } from './schemas.ts'

const url = '/api/dogs/:dogId/shares'
const ShareParams = Type.Object({ ...DogParams.properties, shareId: Id })
const HOUR_MS = 3_600_000
const DAY_MS = 24 * HOUR_MS

/** Links that show one session as it happens, or one report, to whoever has them. */
const shares: FastifyPluginAsyncTypebox<{ config: Config }> = async (app, { config: { limits } }) => {
  const { people, records } = app.store

  app.post(
    url,
    {
      config: { access: forDog('therapist') },
      schema: {
        description: 'The secret is told this once; it goes into the fragment of a link.',
        params: DogParams,
        body: NewShare,
        response: { 201: ShareMade, ...PROBLEMS },
      },
    },
    async ({ params: { dogId }, body, visitor, log }, reply) => {
      const scope = await shareScope(people.roles, dogId, body)
      const lifetimeMs = body.kind === 'live' ? body.hours * HOUR_MS : body.days * DAY_MS
      const secret = newSecret()
      const expiresAt = new Date(Date.now() + lifetimeMs).toISOString()
      const share = { id: newId(), dogId, scope, secretHash: hashOf(secret), expiresAt }
      const made = await people.shares.add(share, authorOf(visitor))
      tell(log, 'share.made', { by: visitor.person!.id, dogId, share: share.id, kind: body.kind })
      return reply.code(201).send({ ...made, secret })
    },
  )

  app.get(
    url,
    {
      config: { access: forDog('therapist') },
      schema: {
        description: 'Newest first, with those that ended within the last 30 days.',
        params: DogParams,
        response: { 200: Type.Array(Share), ...PROBLEMS },
      },
    },
    ({ params: { dogId } }) => people.shares.ofDog(dogId, new Date(Date.now() - MAX_SHARE_DAYS * DAY_MS)),
  )

  app.delete(
    `${url}/:shareId`,
    {
      config: { access: forDog('therapist') },
      schema: {
        description: 'Ends it at once, also where it is open.',
        params: ShareParams,
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { dogId, shareId: id }, visitor, log }, reply) => {
      if (!(await people.shares.revoke(dogId, id, authorOf(visitor)))) {
        throw new ServerError('SHARE_NOT_FOUND', { id })
      }
      tell(log, 'share.ended', { by: visitor.person!.id, dogId, share: id })
      await app.openSockets.recheck()
      return reply.code(204).send(null)
    },
  )

  app.post(
    '/api/shares/open',
    {
      config: {
        access: anyone('the secret is the permission'),
        rateLimit: { max: limits.redeemsPerMinute, timeWindow: '1 minute' },
      },
      schema: {
        description: 'Sets the cookie swaybook_share. One answer for every secret that does not work.',
        body: OpenShare,
        response: { 200: ShareOpened, ...PROBLEMS },
      },
    },
    async ({ body: { secret }, headers, log, ip }, reply) => {
      const share = await people.shares.open(hashOf(secret), new Date())
      if (!share) throw new ServerError('SHARE_NOT_VALID')
      tell(log, 'share.opened', { share: share.id, address: ip })
      const pass = newSecret()
      const nowMs = Date.now()
      const expiresAtMs = Date.parse(share.expiresAt)
      await people.passes.add({
        hash: hashOf(pass),
        id: newId(),
        kind: 'share',
        personId: null,
        shareId: share.id,
        sessionId: null,
        device: deviceName(headers['user-agent']),
        createdAtMs: nowMs,
        expiresAtMs,
      })
      app.cookies.set(reply, 'swaybook_share', pass, expiresAtMs - nowMs)
      return { shared: sharedOf(share) }
    },
  )

  app.get(
    '/api/shared/session',
    { config: { access: forShare('live') }, schema: { response: { 200: SharedSession, ...PROBLEMS } } },
    async ({ visitor: { share } }) => {
      const session = share?.scope.kind === 'live' ? await records.session(share.scope.sessionId) : null
      if (!session) throw new ServerError('SHARE_NOT_VALID')
      const { id: sessionId, dogName, state, startedAt, sensor, resolutionMs2 } = session
      return {
        sessionId,
        dogName,
        state,
        startedAt,
        sensor,
        ...(resolutionMs2 !== undefined && { resolutionMs2 }),
      }
    },
  )

  app.get(
    '/api/shared/report',
    {
      config: { access: forShare('report') },
      schema: {
        description: 'What the report of the shared period is made of.',
        response: {
          200: Type.Unsafe<SharedReport>(
            Type.Object({}, { description: '`SharedReport` of server/protocol/people.ts' }),
          ),
          ...PROBLEMS,
        },
      },
    },
    async ({ visitor: { share } }) => {
      const report =
        share?.scope.kind === 'report' ? await sharedReport(records, share.dogId, share.scope) : null
      if (!report) throw new ServerError('SHARE_NOT_VALID')
      return report
    },
  )
}
export default shares
