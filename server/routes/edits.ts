import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import type { SessionSummary } from '#protocol/resources'
import { SessionEdits, StoredSessionEdits } from '#protocol/session-review'
import type { HoldEdit } from '#protocol/session-review'
import { ServerError } from '../errors.ts'
import type { StoredEdits } from '../store/edits.ts'
import { shownS, storedS } from '../store/time-axis.ts'
import { forDogOfSession } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { checkEdits } from './check-edits.ts'
import { etagOf, IfMatch, precondition, recordOf, withEtag } from './preconditions.ts'
import { saidText } from './said-text.ts'
import { PROBLEMS, SessionParams } from './schemas.ts'

const url = '/api/sessions/:sessionId/edits'
/** As many marks as the schema allows with some hundred characters of text each; more is refused with 413. */
const MAX_BYTES = 16 * 1024 * 1024

/** Marks and corrected holds of a session as one document. */
const edits: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  const found = async (sessionId: string) => {
    const session = await records.session(sessionId)
    if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
    return session
  }

  /** As it is stored and as people see it; seconds of the stream while recording. */
  const current = async (sessionId: string) => {
    const { state } = await found(sessionId)
    const scale = state === 'recording' ? 1 : await records.timeScale(sessionId)
    const stored = await records.edits.edits(sessionId)
    if (!stored) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
    const { version } = stored
    return { stored, scale, shown: { ...withTimes(stored, (atS) => shownS(atS, scale)), version } }
  }

  /** Marks beyond the end that people took away: an undo brings them back. Looked for when one is asked for. */
  const beyondEnd = async ({ marks }: SessionEdits, { id, durationS }: SessionSummary, scale: number) => {
    const stored =
      durationS !== null && marks.some(({ atS }) => atS > durationS)
        ? await records.edits.removedMarks(id)
        : []
    return { stored, shown: stored.map((mark) => ({ ...mark, atS: shownS(mark.atS, scale) })) }
  }

  app.get(
    url,
    {
      config: { access: forDogOfSession('viewer') },
      schema: {
        description: 'In the order of their time, in seconds on the axis of the report.',
        params: SessionParams,
        response: { 200: withEtag(StoredSessionEdits), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId } }, reply) => {
      const { shown } = await current(sessionId)
      return reply.header('etag', etagOf(shown.version)).send(shown)
    },
  )

  app.put(
    url,
    {
      config: { access: forDogOfSession('therapist') },
      bodyLimit: MAX_BYTES,
      schema: {
        description:
          'Replaces all marks and corrected holds, so that an undo is the document before; the session is ' +
          'analysed again, once, before the answer comes. The very document that is stored changes nothing and ' +
          'keeps its version. Times of a recorded stream are taken to the ' +
          'microsecond, those of an upload as they are. 409 while it is being recorded; 422 for marks beyond ' +
          'the end that were never there and for corrections that do not hold together.',
        params: SessionParams,
        headers: IfMatch,
        body: SessionEdits,
        response: { 200: withEtag(StoredSessionEdits), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId }, headers, body, visitor }, reply) => {
      const holds = precondition(headers)
      const session = await found(sessionId)
      if (session.state === 'recording') throw new ServerError('SESSION_RECORDING', { sessionId })
      await app.ingest.requireMeasurable(sessionId)
      const { stored, scale, shown } = await current(sessionId)
      const removed = await beyondEnd(body, session, scale)
      checkEdits(body, [...shown.marks, ...removed.shown], session)
      const before = {
        stored: { ...stored, marks: [...removed.stored, ...stored.marks] },
        shown: { ...shown, marks: [...removed.shown, ...shown.marks] },
      }
      const said = { marks: body.marks.map(withSaidNote), holds: body.holds.map(withSaidReason) }
      const asked = keptTimes(said, before, (atS) => storedS(atS, scale))
      const changed = await records.edits.replace(sessionId, asked, holds, authorOf(visitor))
      const missing = () => new ServerError('SESSION_NOT_FOUND', { sessionId })
      const { version, differs } = recordOf(changed, reply, {
        missing,
        versionOf: (newest) => newest.version,
      })
      if (differs) await app.ingest.analyseAgain(sessionId)
      return { ...withTimes(asked, (atS) => shownS(atS, scale)), version }
    },
  )
}
export default edits

function withTimes({ marks, holds }: StoredEdits, timeOf: (atS: number) => number): SessionEdits {
  return {
    marks: marks.map((mark) => ({ ...mark, atS: timeOf(mark.atS) })),
    holds: holds.map((hold) => ({ ...hold, fromS: timeOf(hold.fromS), toS: timeOf(hold.toS) })),
  }
}

const withSaidNote = (mark: SessionEdits['marks'][number]) => ({ ...mark, note: saidText(mark.note) })
const withSaidReason = (hold: HoldEdit) => ({ ...hold, reason: saidText(hold.reason) })

/** Ready to be stored. What lies where it lay keeps the very number it is stored with, not one rounded twice. */
function keptTimes(
  asked: SessionEdits,
  before: { stored: StoredEdits; shown: SessionEdits },
  timeOf: (atS: number) => number,
): StoredEdits {
  const known = new Map<number, number>()
  before.shown.marks.forEach(({ atS }, i) => known.set(atS, before.stored.marks[i].atS))
  before.shown.holds.forEach(({ fromS, toS }, i) => {
    known.set(fromS, before.stored.holds[i].fromS).set(toS, before.stored.holds[i].toS)
  })
  const { marks, holds } = withTimes(asked, (atS) => known.get(atS) ?? timeOf(atS))
  return {
    marks: marks.toSorted((a, b) => a.atS - b.atS),
    holds: holds.toSorted((a, b) => a.fromS - b.fromS),
  }
}
