import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import type { Static } from 'typebox'
import type { Trends } from '#protocol/trends'
import { TREND_MEASURES } from '#signal/trend/measures'
import type { MeasureName } from '#signal/trend/measures'
import { forDog } from '../access/rules.ts'
import { ServerError } from '../errors.ts'
import { DEFAULT_TREND_SETTINGS, trendsOf } from '../trends/trends.ts'
import { trendsCsv } from '../trends/trends-csv.ts'
import { isCalendarDay } from './calendar-day.ts'
import { DogParams, PROBLEMS } from './schemas.ts'

const MEASURES = Object.keys(TREND_MEASURES) as MeasureName[]
/** Of sessions that are in no line, so many of each reason are named in the answer. */
const NAMED_SESSIONS = 20

const Day = Type.String({
  pattern: '^\\d{4}-\\d{2}-\\d{2}$',
  description: 'A day in UTC, YYYY-MM-DD, included',
})
const Query = Type.Object({
  measure: Type.Optional(
    Type.Union(
      MEASURES.map((measure) => Type.Literal(measure)),
      { default: 'swayRms' },
    ),
  ),
  from: Type.Optional(Day),
  to: Type.Optional(Day),
})

/** Trends of a dog: like set-ups only, and everything left out is told with its reason. */
const trends: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  const asked = async (dogId: string, query: Static<typeof Query>, namedSessions: number) => {
    const { from = null, to = null } = query
    const measure = (query.measure ?? 'swayRms') as MeasureName
    checkDays(from, to)
    const dog = await records.dog(dogId)
    if (!dog) throw new ServerError('DOG_NOT_FOUND', { dogId })
    const [rows, markers, settings] = await Promise.all([
      records.trends.rows(dogId, measure),
      records.trends.markers(dogId),
      records.trendSettings.settings(dogId),
    ])
    const request = { dogId, measure, from, to, demo: dog.demo, namedSessions }
    const answer = trendsOf(rows, markers, { ...request, settings: settings ?? DEFAULT_TREND_SETTINGS })
    return { dog, rows, answer }
  }

  app.get(
    '/api/dogs/:dogId/trends',
    {
      config: { access: forDog('viewer') },
      schema: {
        description:
          'One line per set-up and kind of sensor, most sessions first: what the sessions say with its noise, ' +
          'what was left out and why, the EWMA, and what happened meanwhile. With `from` or `to` the ' +
          'statistics, baseline included, are of those days alone. Changes are statements, never advice.',
        params: DogParams,
        querystring: Query,
        response: {
          200: Type.Unsafe<Trends>(Type.Object({}, { description: '`Trends` of server/protocol/trends.ts' })),
          ...PROBLEMS,
        },
      },
    },
    async ({ params: { dogId }, query }) => (await asked(dogId, query, NAMED_SESSIONS)).answer,
  )

  app.get(
    '/api/dogs/:dogId/trends.csv',
    {
      config: { access: forDog('therapist') },
      schema: {
        description:
          'The sessions behind the trends as CSV (RFC 4180, UTF-8, numbers in full), one row each, with part, ' +
          'reason, EWMA and noise limits.',
        params: DogParams,
        querystring: Query,
        produces: ['text/csv'],
        response: { 200: Type.String(), ...PROBLEMS },
      },
    },
    async ({ params: { dogId }, query }, reply) => {
      const { dog, rows, answer } = await asked(dogId, query, Infinity)
      const name = `${dog.name.replace(/[^A-Za-z0-9]+/g, '-')}-${answer.measure}.csv`
      return reply
        .type('text/csv; charset=utf-8; header=present')
        .header('content-disposition', `attachment; filename="${name}"`)
        .send(trendsCsv(answer, rows))
    },
  )
}
export default trends

function checkDays(from: string | null, to: string | null) {
  for (const day of [from, to]) {
    if (day === null || isCalendarDay(day)) continue
    throw new ServerError('REQUEST_INVALID', { reason: `${day} is no day of the calendar.` })
  }
  if (from !== null && to !== null && from > to) {
    throw new ServerError('REQUEST_INVALID', { reason: `from (${from}) must not be after to (${to}).` })
  }
}
