import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { Redeem, SetUp } from '#protocol/resources'
import type { Config } from '../config.ts'
import { PAIRED_DEVICE, THIS_COMPUTER } from '../author.ts'
import { ServerError } from '../errors.ts'
import { Pairings } from '../live/pairings.ts'
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

/**
 * Lets a phone record a session that was opened on another screen. Who may open a pairing is who may
 * record the session: with accounts, that check belongs at the head of the first route. Redeeming needs
 * no account: the secret is the permission, for one session and once.
 */
const pairings: FastifyPluginAsyncTypebox<{ config: Config }> = async (app, { config: { limits } }) => {
  const { records } = app.store
  const open = new Pairings({ lifetimeMs: limits.pairingMs })

  app.post(
    '/api/sessions/:sessionId/pairing',
    {
      schema: {
        description:
          'A secret that lets one other device record this session; it works once, and an earlier one of ' +
          'the session no longer does. 409 when the session is not being recorded.',
        params: SessionParams,
        response: { 201: PairingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId } }, reply) => {
      const session = await records.session(sessionId)
      if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
      if (session.state !== 'recording') {
        throw new ServerError('SESSION_NOT_RECORDING', { sessionId, state: session.state })
      }
      await records.audit.tell(session.dogId, sessionId, 'session.pairing-opened', THIS_COMPUTER)
      return reply.code(201).send(open.open(sessionId))
    },
  )

  app.post(
    '/api/pairings/redeem',
    {
      // Guessing 256 bits is hopeless at any rate; this keeps the attempt from costing anything.
      config: { rateLimit: { max: limits.redeemsPerMinute, timeWindow: '1 minute' } },
      schema: {
        description:
          'What the other device may know of the session. One answer for every secret that does not work.',
        body: Redeem,
        response: { 200: RedeemedSchema, ...PROBLEMS },
      },
    },
    async ({ body: { secret } }) => {
      const sessionId = open.redeem(secret)
      const session = sessionId === null ? null : await records.session(sessionId)
      if (!session || session.state !== 'recording') throw new ServerError('PAIRING_NOT_VALID')
      const { id, dogId, dogName, setUp } = session
      await records.audit.tell(dogId, id, 'session.paired', PAIRED_DEVICE)
      const capS = (await records.plans.plan(dogId))?.sessionCapS ?? null
      const autoStopS = capS === null ? AUTO_STOP_S : capS + CAP_MARGIN_S
      return { session: id, dogId, dogName, setUp, autoStopS }
    },
  )
}
export default pairings
