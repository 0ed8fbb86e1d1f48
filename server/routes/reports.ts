import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { UnreadablePart } from '#protocol/unreadable-part'
import { forDogOfSession } from '../access/rules.ts'
import { unreadableParts } from '../analysis/unreadable-parts.ts'
import { ServerError } from '../errors.ts'
import { shownS } from '../store/time-axis.ts'
import { ReportSchema } from './report-schema.ts'
import { HoldDetailSchema, TimelineSchema } from './review-schemas.ts'
import { PROBLEMS, SessionParams } from './schemas.ts'

const HoldParams = Type.Object({ ...SessionParams.properties, index: Type.Integer({ minimum: 0 }) })

/** What was measured in a session. */
const reports: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  const notReady = async (sessionId: string): Promise<ServerError> => {
    const session = await records.session(sessionId)
    return session
      ? new ServerError('REPORT_NOT_READY', { sessionId, state: session.state })
      : new ServerError('SESSION_NOT_FOUND', { sessionId })
  }

  app.get(
    '/api/sessions/:sessionId/report',
    {
      config: { access: forDogOfSession('viewer') },
      schema: {
        description: 'The same object as `swaybook analyse --json`.',
        params: SessionParams,
        response: { 200: ReportSchema, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId } }) => {
      const report = await records.report(sessionId)
      if (!report) throw await notReady(sessionId)
      return report
    },
  )

  app.get(
    '/api/sessions/:sessionId/timeline',
    {
      config: { access: forDogOfSession('viewer') },
      schema: { params: SessionParams, response: { 200: TimelineSchema, ...PROBLEMS } },
    },
    async ({ params: { sessionId } }) => {
      const timeline = await records.timeline(sessionId)
      if (!timeline) throw await notReady(sessionId)
      const scale = await records.timeScale(sessionId)
      const marks = await records.marks(sessionId)
      return { ...timeline, marks: marks.map((mark) => ({ ...mark, atS: shownS(mark.atS, scale) })) }
    },
  )

  app.get(
    '/api/sessions/:sessionId/unreadable',
    {
      config: { access: forDogOfSession('viewer') },
      schema: {
        description:
          'What of the recording cannot be read because its stored samples are damaged, ascending; empty when all ' +
          'is well. Of samples in InfluxDB what reading found since the start.',
        params: SessionParams,
        response: { 200: Type.Array(UnreadablePart), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId } }) => {
      if (!(await records.session(sessionId))) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
      return unreadableParts(app.store, sessionId)
    },
  )

  app.get(
    '/api/sessions/:sessionId/holds/:index',
    {
      config: { access: forDogOfSession('viewer') },
      schema: { params: HoldParams, response: { 200: HoldDetailSchema, ...PROBLEMS } },
    },
    async ({ params: { sessionId, index } }) => {
      const hold = await records.hold(sessionId, index)
      if (hold) return hold
      const report = await records.report(sessionId)
      if (!report) throw await notReady(sessionId)
      throw new ServerError('HOLD_NOT_FOUND', { sessionId, holds: report.holds.length })
    },
  )
}
export default reports
