import type { StoredMark } from '#protocol/messages'
import type { SessionSummary } from '#protocol/resources'
import type { HoldEdit, SessionEdits } from '#protocol/session-review'
import { ServerError } from '../errors.ts'

/** A set hold may end this much after the last sample, s: what the analysis allows (signal/session/hold-edits.ts). */
const END_MARGIN_S = 0.1

/**
 * @throws {ServerError} for what the schema cannot see: an id used twice, marks beyond the end that were not
 *   there `earlier`, holds that end before they begin, overlap, or are left out without a reason
 */
export function checkEdits(
  { marks, holds }: SessionEdits,
  earlier: readonly StoredMark[],
  { id: sessionId, durationS }: Pick<SessionSummary, 'id' | 'durationS'>,
): void {
  requireUnique(marks, 'marks')
  requireUnique(holds, 'corrections')
  for (const hold of holds) checkHold(hold, durationS ?? Infinity)
  requireApart(holds.filter(({ kind }) => kind === 'set'))
  // A sender may have marked a moment whose samples never came.
  const place = ({ id, atS }: Pick<StoredMark, 'id' | 'atS'>) => `${atS} ${id}`
  const wasThere = new Set(earlier.map(place))
  const beyond = marks.find((mark) => mark.atS > (durationS ?? Infinity) && !wasThere.has(place(mark)))
  if (beyond && durationS !== null) {
    const { atS } = beyond
    throw new ServerError('MARK_BEYOND_END', { sessionId, atS, durationS: Number(durationS.toFixed(3)) })
  }
}

function checkHold({ id, kind, fromS, toS, reason }: HoldEdit, durationS: number): void {
  if (fromS >= toS) throw invalid(`Correction ${id} ends at ${toS} s, not after its beginning at ${fromS} s.`)
  if (toS > durationS + END_MARGIN_S) {
    throw invalid(`Correction ${id} ends at ${toS} s, but the session ends at ${durationS.toFixed(3)} s.`)
  }
  if (kind === 'leave out' && (reason === null || reason.trim() === '')) {
    throw invalid(`Correction ${id} leaves holds out without a reason: say why.`)
  }
}

function requireUnique(all: readonly { id: string }[], what: string): void {
  const seen = new Set<string>()
  for (const { id } of all) {
    if (seen.has(id)) throw invalid(`Two ${what} have the id ${id}; each needs its own.`)
    seen.add(id)
  }
}

function requireApart(holds: readonly HoldEdit[]): void {
  const ordered = holds.toSorted((a, b) => a.fromS - b.fromS)
  const at = ordered.findIndex((hold, i) => i > 0 && hold.fromS < ordered[i - 1].toS)
  if (at > 0) throw invalid(`Corrections ${ordered[at - 1].id} and ${ordered[at].id} set holds that overlap.`)
}

function invalid(reason: string): ServerError {
  return new ServerError('EDITS_INVALID', { reason })
}
