import type { MannKendall } from './mann-kendall.ts'
import type { ChangeWord, MeasureName, TrendScale } from './measures.ts'
import type { TrendSession } from './trend-sessions.ts'
import type { WeeklyValue } from './weekly.ts'

export type Verdict = ChangeWord | 'no change beyond noise' | 'too few sessions'

export interface TrendOptions {
  readonly measure: MeasureName
  /** Of the measure by default. */
  readonly scale?: TrendScale
  /**
   * When the dog first stood on this surface, if it is an unstable one, UTC µs: the three weeks from that
   * UTC day on are familiarisation. null for the floor and for a surface the dog knew before.
   */
  readonly unstableSurfaceSinceUs: number | null
  /** Sessions that make the baseline, at least 3; 5 by default. */
  readonly baselineSessions?: number
  /** Whether a person has said that sessions with a look-alike belong in the tremor trend. */
  readonly includeLookAlikes?: boolean
}

/** A number with its interval or limits, in `Trend.unit`. */
export interface Interval {
  readonly value: number
  readonly low: number
  readonly high: number
}

/** Changes that noise alone stays between in 95 % of cases, in `Trend.unit`; fall < 0 < rise. */
export interface NoiseLimits {
  readonly fall: number
  readonly rise: number
}

/** The sessions every later one is compared with. */
export interface Baseline {
  readonly sessions: number
  /** Mean in the unit of the measure; geometric on a log scale. */
  readonly mean: number
  /** SD of the sessions: in the unit of the measure, or of its natural logarithm. */
  readonly sem: number
  /** MDC₉₅ = 1.96·√2·SEM (Weir 2005): one session against one other. */
  readonly mdc95: NoiseLimits
}

/** The newest sessions against the baseline. */
export interface Change {
  /** In `Trend.unit`. */
  readonly value: number
  /** Median of the newest sessions, in the unit of the measure. */
  readonly newest: number
  /** How many they are, 1 to 3. */
  readonly sessions: number
  /** MDC₉₅ of this very comparison. */
  readonly limits: NoiseLimits
  readonly beyondNoise: boolean
}

export interface Trend {
  readonly measure: MeasureName
  readonly scale: TrendScale
  /** Unit of slope, change and limits: '%' on a log scale, else that of the measure. */
  readonly unit: string
  readonly verdict: Verdict
  readonly direction: 'fall' | 'rise' | null
  /** The verdict in words with its numbers. */
  readonly sentence: string
  /** All sessions given, in time order, and what each was used for. */
  readonly sessions: readonly TrendSession[]
  /** How many count: neither left out nor familiarisation. */
  readonly counted: number
  /** Of the sessions that count; values in the unit of the measure. */
  readonly weekly: readonly WeeklyValue[]
  /** Theil–Sen slope of the weekly values per 4 weeks with Sen's 95 % interval; null below 2 weeks. */
  readonly slopePer4Weeks: Interval | null
  /** Of the weekly values; null below 2 weeks. */
  readonly mannKendall: MannKendall | null
  /** null when fewer sessions count than a trend needs. */
  readonly baseline: Baseline | null
  readonly change: Change | null
}
