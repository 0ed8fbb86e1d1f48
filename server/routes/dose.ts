import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { doseOf } from '#protocol/dose'
import { ADVICE_WEEKS } from '#protocol/dose-advice'
import { isDose } from '#protocol/dose-weeks'
import { addDays, isTimeZone, localDay, mondayOf } from '#protocol/local-week'
import { Id } from '#protocol/messages'
import type { SessionSummary } from '#protocol/resources'
import { forDog } from '../access/rules.ts'
import { ServerError } from '../errors.ts'
import type { Records } from '../store/records.ts'
import { DogParams, PROBLEMS } from './schemas.ts'

const Count = Type.Union([Type.Number(), Type.Null()])
const Week = Type.Object({
  monday: Type.String({ description: 'Its Monday, YYYY-MM-DD' }),
  planVersion: Count,
  planned: Type.Object({ days: Count, sessions: Count, repetitionsPerSession: Count }),
  done: Type.Object({
    days: Type.Integer(),
    sessions: Type.Integer(),
    repetitions: Type.Integer(),
    holdS: Type.Number(),
    handsOffHoldS: Count,
    longestS: Type.Number(),
    overLimit: Type.Integer(),
    daysOverSessions: Type.Integer(),
  }),
  checkIns: Type.Object({
    better: Type.Integer(),
    normal: Type.Integer(),
    tired: Type.Integer(),
    sore: Type.Integer(),
  }),
  current: Type.Boolean(),
  left: Type.Union([Type.Object({ days: Count, sessions: Count }), Type.Null()]),
})
export const DoseSchema = Type.Object({
  dogId: Id,
  timeZone: Type.String(),
  weeks: Type.Array(Week),
  advice: Type.Array(
    Type.Object({
      kind: Type.Union([
        Type.Literal('cut back'),
        Type.Literal('ask'),
        Type.Literal('rest'),
        Type.Literal('check in'),
      ]),
      text: Type.String(),
      basis: Type.String(),
      sessionId: Type.Optional(Id),
    }),
  ),
})

/** Ten years. */
const MOST_WEEKS = 520
const PAGE = 500

/** What was planned and what was done, week by week, and what the next session should mind. */
const dose: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  app.get(
    '/api/dogs/:dogId/dose',
    {
      config: { access: forDog('viewer') },
      schema: {
        description:
          'Weeks from Monday to Sunday in the time zone, newest first, those without sessions included; advice ' +
          'is less, rest, ask, or a question, never more.',
        params: DogParams,
        querystring: Type.Object(
          {
            timeZone: Type.String({ maxLength: 64, description: 'IANA name, e.g. Europe/Berlin' }),
            weeks: Type.Optional(
              Type.Integer({ minimum: 1, maximum: MOST_WEEKS, description: 'Left out: 26' }),
            ),
          },
          { additionalProperties: false },
        ),
        response: { 200: DoseSchema, ...PROBLEMS },
      },
    },
    async ({ params: { dogId }, query: { timeZone, weeks = ADVICE_WEEKS } }) => {
      if (!isTimeZone(timeZone)) throw new ServerError('TIME_ZONE_UNKNOWN', { timeZone })
      const dog = await records.dog(dogId)
      if (!dog) throw new ServerError('DOG_NOT_FOUND', { dogId })
      const now = new Date()
      const oldest = addDays(mondayOf(localDay(now, timeZone)), -7 * Math.max(weeks, ADVICE_WEEKS))
      const [sessions, plans] = await Promise.all([
        sessionsSince(records, dogId, oldest, dog.demo),
        records.plans.plans(dogId),
      ])
      return doseOf(dogId, { sessions, plans, timeZone, now, played: dog.demo }, weeks)
    },
  )
}
export default dose

/** Newest first, until one is older than the day: the weeks before are left on the disk. */
async function sessionsSince(
  records: Records,
  dogId: string,
  day: string,
  played: boolean,
): Promise<SessionSummary[]> {
  const sessions: SessionSummary[] = []
  let cursor: string | undefined
  do {
    const page = await records.sessions({ dogId, limit: PAGE, ...(cursor !== undefined && { cursor }) })
    sessions.push(...page.sessions)
    // Days of the person may differ by one from those in UTC; a day more is read, and clipped.
    const reached = page.sessions.some(
      (session) =>
        isDose(session, played) && (session.startedAt ?? session.createdAt).slice(0, 10) < addDays(day, -1),
    )
    cursor = reached ? undefined : (page.next ?? undefined)
  } while (cursor !== undefined)
  return sessions
}
