import type { ComparableReport, HoldReport, SessionReport } from '../report-types.ts'
import type { MeasureName } from './measures.ts'

/** One session's value of one measure, and what decides whether it counts. */
export interface TrendPoint {
  /** Start of the session, UTC µs. */
  readonly startedAtUs: number
  /**
   * Names everything that must be alike: surface, height, firmness, spacing, and the kind of sensor, as a
   * phone's coarse steps are a trend line of their own.
   */
  readonly setUp: string
  /** In the unit of the measure; null when the recording did not support it. */
  readonly value: number | null
  /** Fewer than two 5 s pieces stand behind the value. */
  readonly weak: boolean
  /** An exercise hold of the session carries something that can pass for tremor. */
  readonly lookAlike: boolean
  /** The hold time it was measured on; null for measures that do not depend on it. */
  readonly basis: ComparableReport['basis'] | null
}

/** The parts of a report that trends draw on. */
export interface TrendSource {
  readonly holds: readonly Pick<HoldReport, 'role' | 'tremor'>[]
  readonly session: Pick<SessionReport, 'comparable' | 'bestHoldS' | 'handsOffHoldS' | 'supportShare'>
}

/**
 * The point a session's report gives for a measure.
 *
 * @param report of one session
 * @param at start (UTC µs) and set-up of that session, which a report does not hold
 */
export function trendPointOf(
  report: TrendSource,
  at: Pick<TrendPoint, 'startedAtUs' | 'setUp'>,
  measure: MeasureName,
): TrendPoint {
  const { comparable } = report.session
  const common = { ...at, lookAlike: report.holds.some(isLookAlike) }
  switch (measure) {
    case 'swayRms':
    case 'pathRate':
    case 'jerk':
    case 'tremorRms':
      return { ...common, value: comparable[measure], weak: comparable.weak, basis: comparable.basis }
    case 'bestHoldS':
    case 'handsOffHoldS':
    case 'supportShare':
      // A short hold is a weak recording but a true hold time: leaving it out would hide bad days.
      return { ...common, value: report.session[measure], weak: false, basis: null }
  }
}

function isLookAlike({ role, tremor }: Pick<HoldReport, 'role' | 'tremor'>): boolean {
  // The first band is the tremor band; sway and fast bands have no say here.
  return role === 'exercise' && tremor.bands.length > 0 && tremor.bands[0].lookalike !== null
}
