import type { ComparableReport, HoldReport, SessionReport } from '../report-types.ts'
import { TREND_MEASURES } from './measures.ts'
import type { MeasureName } from './measures.ts'

/** One session's value of one measure, and what decides whether it counts. */
export interface TrendPoint extends TrendMoment {
  /** In the unit of the measure; null when the recording did not support it. */
  readonly value: number | null
  /** Fewer than two 5 s pieces stand behind the value. */
  readonly weak: boolean
  /** An exercise hold of the session carries something that can pass for tremor. */
  readonly lookAlike: boolean
  /** The hold time it was measured on; null for measures that do not depend on it. */
  readonly basis: ComparableReport['basis'] | null
}

/** What a session's measurement does not know of it. */
export interface TrendMoment {
  /** Start of the session, UTC µs. */
  readonly startedAtUs: number
  /**
   * Names everything that must be alike: surface, height, firmness, spacing, and the kind of sensor, as a
   * phone's coarse steps are a trend line of their own.
   */
  readonly setUp: string
  /** Whether a person left the session out of trends. */
  readonly excluded: boolean
}

/** The figures of a session that trends draw on; null before it was analysed, or not supported. */
export interface TrendFigures {
  readonly comparableSwayMs2: number | null
  /** m/s³. */
  readonly comparablePathRate: number | null
  /** m²/s⁵. */
  readonly comparableJerk: number | null
  readonly comparableTremorMs2: number | null
  /** Steadiness ratio; null too for analyses from before it was measured. */
  readonly comparableRatio: number | null
  /** Fewer than two 5 s pieces. */
  readonly comparableWeak: boolean | null
  readonly comparableBasis: ComparableReport['basis'] | null
  /** An exercise hold carries something that can pass for tremor. */
  readonly lookAlike: boolean | null
  readonly bestHoldS: number | null
  readonly handsOffHoldS: number | null
  readonly supportShare: number | null
}

/** The parts of a report that trends draw on. */
export interface TrendSource {
  readonly holds: readonly Pick<HoldReport, 'role' | 'tremor'>[]
  readonly session: Pick<SessionReport, 'comparable' | 'bestHoldS' | 'handsOffHoldS' | 'supportShare'>
}

/** The figures a report gives to trends. */
export function trendFigures({ holds, session }: TrendSource): TrendFigures {
  const { comparable, bestHoldS, handsOffHoldS, supportShare } = session
  return {
    comparableSwayMs2: comparable.swayRms,
    comparablePathRate: comparable.pathRate,
    comparableJerk: comparable.jerk,
    comparableTremorMs2: comparable.tremorRms,
    comparableRatio: comparable.steadinessRatio ?? null,
    comparableWeak: comparable.weak,
    comparableBasis: comparable.basis,
    lookAlike: holds.some(isLookAlike),
    bestHoldS,
    handsOffHoldS,
    supportShare,
  }
}

/**
 * The point a session's report gives for a measure.
 *
 * @param report of one session
 * @param at start (UTC µs), set-up and exclusion of that session, which a report does not hold
 */
export function trendPointOf(report: TrendSource, at: TrendMoment, measure: MeasureName): TrendPoint {
  return trendPointFrom(trendFigures(report), at, measure)
}

/** The point that stored figures of a session give for a measure: the same as from its whole report. */
export function trendPointFrom(figures: TrendFigures, at: TrendMoment, measure: MeasureName): TrendPoint {
  const { startedAtUs, setUp, excluded } = at
  const common = { startedAtUs, setUp, excluded, lookAlike: figures.lookAlike ?? false }
  const value = figures[FIGURE[measure]]
  if (TREND_MEASURES[measure].onPieces) {
    const { comparableWeak, comparableBasis } = figures
    return { ...common, value, weak: comparableWeak ?? false, basis: comparableBasis }
  }
  // A short hold is a weak recording but a true hold time: leaving it out would hide bad days.
  return { ...common, value, weak: false, basis: null }
}

/** The figure behind each measure. */
const FIGURE = {
  swayRms: 'comparableSwayMs2',
  pathRate: 'comparablePathRate',
  jerk: 'comparableJerk',
  steadinessRatio: 'comparableRatio',
  tremorRms: 'comparableTremorMs2',
  bestHoldS: 'bestHoldS',
  handsOffHoldS: 'handsOffHoldS',
  supportShare: 'supportShare',
} as const satisfies Record<MeasureName, keyof TrendFigures>

function isLookAlike({ role, tremor }: Pick<HoldReport, 'role' | 'tremor'>): boolean {
  // The first band is the tremor band; sway and fast bands have no say here.
  return role === 'exercise' && tremor.bands.length > 0 && tremor.bands[0].lookalike !== null
}
