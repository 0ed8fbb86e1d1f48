import type { MeasureName } from './measures.ts'
import { TREND_MEASURES } from './measures.ts'
import type { TrendPoint } from './trend-point.ts'
import { DAY_US, WEEK_US } from './weekly.ts'

/** Dogs learn a moving surface; sway falls for some weeks before it tells anything about therapy. */
export const FAMILIARISATION_WEEKS = 3

/** Why a session does not count. */
export type LeftOut = 'excluded by a person' | 'weak' | 'look-alike' | 'no value' | 'other hold time'

/** What a session is used for. */
export type TrendPart = 'baseline' | 'later' | 'newest' | 'familiarisation' | 'left out'

export interface TrendSession extends TrendPoint {
  readonly part: TrendPart
  readonly leftOut: LeftOut | null
}

/** A session that counts. */
export interface CountedPoint extends TrendPoint {
  readonly value: number
}

export interface SelectionOptions {
  readonly measure: MeasureName
  readonly scale: 'log' | 'linear'
  readonly unstableSurfaceSinceUs: number | null
  readonly includeLookAlikes: boolean
}

export interface Selection {
  /** In time order. */
  readonly counted: readonly CountedPoint[]
  readonly familiarisation: readonly TrendPoint[]
  readonly leftOut: ReadonlyMap<TrendPoint, LeftOut>
  /** All, in time order. */
  readonly ordered: readonly TrendPoint[]
}

/**
 * Sorts sessions into those that count, those of the first weeks on a new unstable surface, and those left
 * out with the reason: excluded by a person, no value (or 0 where a log is needed), weak, a look-alike of
 * tremor, or measured on other hold time (hands-off or all) than most sessions that nobody excluded.
 *
 * @throws {RangeError} if two set-ups are mixed, a moment or value is not finite, or a value is negative
 */
export function selectSessions(points: readonly TrendPoint[], options: SelectionOptions): Selection {
  for (const { startedAtUs, setUp, value } of points) {
    if (setUp !== points[0].setUp) {
      throw new RangeError(`trendOf requires sessions of one set-up, got "${points[0].setUp}" and "${setUp}"`)
    }
    if (!Number.isFinite(startedAtUs)) {
      throw new RangeError(`trendOf requires finite startedAtUs, got ${startedAtUs}`)
    }
    if (value !== null && !(value >= 0 && value < Infinity)) {
      throw new RangeError(`trendOf requires values >= 0 or null, got ${value} at ${startedAtUs}`)
    }
  }
  const ordered = points.toSorted((a, b) => a.startedAtUs - b.startedAtUs)
  const basis = commonBasis(ordered)
  const familiarFromUs =
    options.unstableSurfaceSinceUs === null
      ? -Infinity
      : // From midnight, or an earlier hour three weeks on would still count as learning.
        Math.floor(options.unstableSurfaceSinceUs / DAY_US) * DAY_US + FAMILIARISATION_WEEKS * WEEK_US
  const counted: CountedPoint[] = []
  const familiarisation: TrendPoint[] = []
  const leftOut = new Map<TrendPoint, LeftOut>()
  for (const point of ordered) {
    const reason = reasonToLeaveOut(point, options, basis)
    if (reason !== null) leftOut.set(point, reason)
    else if (point.startedAtUs < familiarFromUs) familiarisation.push(point)
    else counted.push(point as CountedPoint)
  }
  return { counted, familiarisation, leftOut, ordered }
}

function reasonToLeaveOut(
  point: TrendPoint,
  { measure, scale, includeLookAlikes }: SelectionOptions,
  basis: TrendPoint['basis'],
): LeftOut | null {
  const { onPieces, hasLookAlikes } = TREND_MEASURES[measure]
  if (point.excluded) return 'excluded by a person'
  if (point.value === null || (scale === 'log' && point.value === 0)) return 'no value'
  if (onPieces && point.weak) return 'weak'
  if (point.basis !== basis && point.basis !== null) return 'other hold time'
  if (hasLookAlikes && point.lookAlike && !includeLookAlikes) return 'look-alike'
  return null
}

/** The hold time most sessions were measured on; hands-off when as many have the other. */
function commonBasis(points: readonly TrendPoint[]): TrendPoint['basis'] {
  const count = (basis: TrendPoint['basis']) =>
    points.filter((point) => !point.excluded && point.basis === basis).length
  return count('all hold time') > count('hands-off hold time') ? 'all hold time' : 'hands-off hold time'
}
