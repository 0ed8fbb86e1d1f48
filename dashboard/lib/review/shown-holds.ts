import type { HoldEdit, SessionEdits } from '#protocol/session-review'
import type { HoldReport } from '#signal/report-types'
import { coversMiddle } from './edit-document'

/** A hold as the screen shows it now: as measured, with what people changed since. */
export interface ShownHold {
  /** The same from change to change; that of its correction once there is one. */
  readonly key: string
  readonly fromS: number
  readonly toS: number
  /** Place in the holds of the report; null for one that is not measured yet, or no longer. */
  readonly index: number | null
  /** "hold 2", "new hold". */
  readonly name: string
  readonly role: HoldReport['role']
  /** `found` by the measurement, or `set` by a person. */
  readonly origin: 'found' | 'set'
  /** Of the correction that set it. */
  readonly setId: string | null
  readonly leftOut: { readonly reason: string | null } | null
}

/** Corrected edges come back on the grid of the recording: this much apart is the same, s. */
const SAME_EDGE_S = 0.06

/**
 * The holds in order of time.
 * @param measured the document the report was made under
 * @param doc the document as it is now
 */
export function shownHolds(
  holds: readonly Pick<HoldReport, 'fromS' | 'toS' | 'role'>[],
  measured: SessionEdits,
  doc: SessionEdits,
): ShownHold[] {
  const wasSet = measured.holds.filter(({ kind }) => kind === 'set')
  const sets = doc.holds.filter(({ kind }) => kind === 'set')
  const outs = doc.holds.filter(({ kind }) => kind === 'leave out')
  const rows = holds.map(({ fromS, toS, role }, index) => ({ fromS, toS, role, index }))
  // A hold a person had set stands in the report; without its correction it is not known what would be found.
  const found = rows.filter((row) => !wasSet.some((edit) => isSameSpan(row, edit)))
  const byHand = sets.map((edit): Omit<ShownHold, 'leftOut'> => {
    const before = wasSet.find(({ id }) => id === edit.id)
    const row = before ? rows.find((candidate) => isSameSpan(candidate, before)) : mostOverlapped(found, edit)
    const { fromS, toS, id } = edit
    const name = row ? `hold ${row.index + 1}` : 'new hold'
    const role = row?.role ?? 'exercise'
    return { key: id, fromS, toS, index: row?.index ?? null, name, role, origin: 'set', setId: id }
  })
  const asFound = found
    .filter((row) => !sets.some((edit) => overlapS(row, edit) > 0))
    .map((row): Omit<ShownHold, 'leftOut'> => {
      const { fromS, toS, role, index } = row
      const key = `found-${fromS.toFixed(2)}`
      return { key, fromS, toS, index, name: `hold ${index + 1}`, role, origin: 'found', setId: null }
    })
  const listed = [...byHand, ...asFound].map((hold): ShownHold => {
    const out = outs.find((edit) => coversMiddle(edit, hold))
    if (!out) return { ...hold, leftOut: null }
    // What is left out is not in the report, so it has no number.
    return {
      ...hold,
      name: hold.index === null ? 'left-out hold' : hold.name,
      leftOut: { reason: out.reason },
    }
  })
  return [...listed, ...outOfReport(outs, listed)].sort((a, b) => a.fromS - b.fromS || a.toS - b.toS)
}

/** Left-out holds that the report no longer lists: drawn where they were, so that they can come back. */
function outOfReport(outs: readonly HoldEdit[], listed: readonly ShownHold[]): ShownHold[] {
  return outs
    .filter((edit) => !listed.some((hold) => coversMiddle(edit, hold)))
    .map(({ id, fromS, toS, reason }) => ({
      key: id,
      fromS,
      toS,
      index: null,
      name: 'left-out hold',
      role: 'exercise',
      origin: 'found',
      setId: null,
      leftOut: { reason },
    }))
}

function mostOverlapped<T extends { fromS: number; toS: number }>(rows: readonly T[], edit: HoldEdit) {
  let best: T | undefined
  for (const row of rows) if (overlapS(row, edit) > (best ? overlapS(best, edit) : 0)) best = row
  return best
}

interface Span {
  readonly fromS: number
  readonly toS: number
}

const overlapS = (a: Span, b: Span) => Math.min(a.toS, b.toS) - Math.max(a.fromS, b.fromS)

const isSameSpan = (a: Span, b: Span) =>
  Math.abs(a.fromS - b.fromS) < SAME_EDGE_S && Math.abs(a.toS - b.toS) < SAME_EDGE_S

/** How far an edge may go: up to the holds beside it, to the ends of the recording, never below `shortestS`. */
export function edgeLimits(
  holds: readonly ShownHold[],
  hold: ShownHold,
  side: 'from' | 'to',
  durationS: number,
  shortestS: number,
): { minS: number; maxS: number } {
  const others = holds.filter(({ key }) => key !== hold.key)
  if (side === 'from') {
    const before = others.filter(({ toS }) => toS <= hold.fromS + SAME_EDGE_S).map(({ toS }) => toS)
    return { minS: Math.max(0, ...before), maxS: Math.max(hold.fromS, hold.toS - shortestS) }
  }
  const after = others.filter(({ fromS }) => fromS >= hold.toS - SAME_EDGE_S).map(({ fromS }) => fromS)
  return { minS: Math.min(hold.toS, hold.fromS + shortestS), maxS: Math.min(durationS, ...after) }
}

/** The free stretch around a moment, where a new hold fits; null inside a hold. */
export function freeStretch(holds: readonly ShownHold[], atS: number, durationS: number): Span | null {
  if (holds.some(({ fromS, toS }) => fromS <= atS && atS < toS)) return null
  const fromS = Math.max(0, ...holds.filter((h) => h.toS <= atS).map((h) => h.toS))
  const toS = Math.min(durationS, ...holds.filter((h) => h.fromS > atS).map((h) => h.fromS))
  return toS > fromS ? { fromS, toS } : null
}
