import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id, MAX_SESSION_S } from '#protocol/messages'
import { Redeem, SetUp } from '#protocol/resources'
import type { Config } from '../config.ts'
import { hashOf, newSecret } from '../access/cookies.ts'
import { anyone, forDogOfSession } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { PAIRED_DEVICE } from '../author.ts'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import { Pairings } from '../live/pairings.ts'
import { deviceName } from '../people/device-name.ts'
import { newId } from './ids.ts'
import { PROBLEMS, SessionParams } from './schemas.ts'

const PairingSchema = Type.Object({
  secret: Type.String({ description: 'Goes into the fragment of a link, never into a path or a query' }),
  expiresAt: Type.String(),
})

const RedeemedSchema = Type.Object({
  session: Id,
  dogId: Id,
  dogName: Type.String(),
  setUp: Type.Union([SetUp, Type.Null()]),
  autoStopS: Type.Number(),
})

/** Quiet stand, harness and rests come on top of the exercise that a plan caps, s. */
const CAP_MARGIN_S = 10 * 60
/** Without a plan: longer than any session, short enough to leave some of the battery. */
const AUTO_STOP_S = 60 * 60
/** A phone sends what it kept after the server was away, or its network, for as long as a session may last. */
const PAIRED_MS = MAX_SESSION_S * 1000

/**
 * Lets a phone record a session that was opened on another screen. Redeeming needs no account: the secret is the
 * permission, once, and gives the phone a pass for that one session.
 */
const pairings: FastifyPluginAsyncTypebox<{ config: Config }> = async (app, { config: { limits } }) => {
  const { records } = app.store
  const open = new Pairings({ lifetimeMs: limits.pairingMs })

  app.post(
    '/api/sessions/:sessionId/pairing',
    {
      config: { access: forDogOfSession('therapist') },
      schema: {
        description:
          'A secret that lets one other device record this session; it works once, and an earlier one of ' +
          'the session no longer does. 409 when the session is not being recorded.',
        params: SessionParams,
        response: { 201: PairingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId }, visitor, log }, reply) => {
      const session = await records.session(sessionId)
      if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
      if (session.state !== 'recording') {
        throw new ServerError('SESSION_NOT_RECORDING', { sessionId, state: session.state })
      }
      await records.audit.tell(session.dogId, sessionId, 'session.pairing-opened', authorOf(visitor))
      tell(log, 'pairing.made', { by: visitor.person!.id, sessionId })
      return reply.code(201).send(open.open(sessionId))
    },
  )

  app.post(
    '/api/pairings/redeem',
    {
      // Guessing 256 bits is hopeless at any rate; this keeps the attempt from costing anything.
      config: {
        access: anyone('the secret is the permission'),
        rateLimit: { max: limits.redeemsPerMinute, timeWindow: '1 minute' },
      },
      schema: {
        description:
          'What the other device may know of the session. One answer for every secret that does not work.',
        body: Redeem,
        response: { 200: RedeemedSchema, ...PROBLEMS },
      },
    },
    async (request, reply) => {
      const { secret } = request.body
      const sessionId = open.redeem(secret)
      const session = sessionId === null ? null : await records.session(sessionId)
      if (!session || session.state !== 'recording') throw new ServerError('PAIRING_NOT_VALID')
      const { id, dogId, dogName, setUp } = session
      await records.audit.tell(dogId, id, 'session.paired', PAIRED_DEVICE)
      tell(request.log, 'pairing.used', { sessionId: id, address: request.ip })
      const pass = newSecret()
      const nowMs = Date.now()
      await app.store.people.passes.add({
        hash: hashOf(pass),
        id: newId(),
        kind: 'paired',
        personId: null,
        shareId: null,
        sessionId: id,
        device: deviceName(request.headers['user-agent']),
        createdAtMs: nowMs,
        expiresAtMs: nowMs + PAIRED_MS,
      })
      app.cookies.addPaired(request, reply, pass, PAIRED_MS)
      const capS = (await records.plans.plan(dogId))?.sessionCapS ?? null
      const autoStopS = capS === null ? AUTO_STOP_S : capS + CAP_MARGIN_S
      return { session: id, dogId, dogName, setUp, autoStopS }
    },
  )
}
export default pairings
