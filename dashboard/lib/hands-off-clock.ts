import { handsOffWithin, supportOf, totalS } from '#signal/session/support'
import type { Mark } from '#signal/trace/trace'

/**
 * Seconds of the hold that has lasted `holdS` at `nowS` during which the dog stood on its own, by the
 * marks so far; the same rules as in the review. Null when nobody has marked hands-on or hands-off.
 */
export function onItsOwnS(
  marks: readonly Pick<Mark, 'atS' | 'kind'>[],
  holdS: number,
  nowS: number,
): number | null {
  const ordered = marks.map(({ atS, kind }) => ({ atS, kind })).sort((a, b) => a.atS - b.atS)
  const support = supportOf(ordered, nowS)
  if (!support.known) return null
  return totalS(handsOffWithin(support, { fromS: nowS - holdS, toS: nowS }))
}
