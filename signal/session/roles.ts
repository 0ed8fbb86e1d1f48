import type { Reference } from '../hold/reference.ts'
import type { HoldReport } from '../report-types.ts'
import type { Mark } from '../trace/trace.ts'
import type { Span } from './support.ts'

/** A recording whose first hold begins this early opens with it, s. */
const OPENING_S = 3

/**
 * Sets apart the quiet stand on the floor: the holds whose middle lies in a marked quiet stand, or,
 * in a recording without such marks, an opening hold that is also its quietest stretch, as the
 * protocol (ten quiet seconds first) would have it; the hold's reason then says so.
 *
 * @param leftOut holds a person left out: a stand does not become exercise when the exercise is left out
 */
export function assignRoles(
  holds: HoldReport[],
  marks: readonly Mark[],
  reference: Reference | null,
  leftOut = 0,
): void {
  if (!reference) return
  if (marks.some((mark) => mark.kind.startsWith('quiet-stand'))) {
    for (const hold of holds) {
      const middle = (hold.fromS + hold.toS) / 2
      if (inMarkedStand(marks, middle)) hold.role = 'quiet stand'
    }
    return
  }
  const [opening] = holds
  if (holds.length === 0 || holds.length + leftOut < 2 || !isOpeningStand(opening, reference)) return
  opening.role = 'quiet stand'
  const why = 'opens the recording and is its quietest stretch: taken as the quiet stand, not as exercise'
  opening.reason = opening.reason ? `${opening.reason}; ${why}` : why
}

/** True for a hold that opens the recording and holds its quietest stretch. */
export function isOpeningStand({ fromS, toS }: Span, reference: Span): boolean {
  return fromS <= OPENING_S && reference.fromS >= fromS - 1 && reference.toS <= toS + 1
}

/** An unended quiet stand counts to the end of its hold: whatever begins after its start mark. */
export function inMarkedStand(marks: readonly Mark[], tS: number): boolean {
  let inside = false
  for (const mark of marks) {
    if (mark.atS > tS) break
    if (mark.kind === 'quiet-stand-start') inside = true
    else if (mark.kind === 'quiet-stand-end' || mark.kind === 'repetition-start') inside = false
  }
  return inside
}
