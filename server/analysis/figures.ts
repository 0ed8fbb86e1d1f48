import { median } from 'simple-statistics'
import type { HoldReport, Report } from '#signal/report-types'
import { trendFigures } from '#signal/trend/trend-point'
import type { TrendFigures } from '#signal/trend/trend-point'

/** Holds shorter than this do not enter the session's medians, s: their sway is hardly defined. */
const MIN_FIGURE_HOLD_S = 2

/** The few figures of a session that lists and trends show. */
export interface SessionFigures extends TrendFigures {
  durationS: number
  rateHz: number
  verdict: Report['quality']['verdict']
  holds: number
  holdS: number
  swayMs2: number | null
  tremorMs2: number | null
  /** Repetitions with hold time in them. */
  repetitions: number
  /** Sway of the last repetition over that of the first. */
  fatigueRatio: number | null
  planWarnings: number
}

/** Figures of a report; medians are over holds of at least 2 s, null without any. */
export function sessionFigures(report: Report): SessionFigures {
  // The quiet stand on the floor is measured, but it is no part of the exercise.
  const holds = report.holds.filter((hold) => hold.role === 'exercise')
  const long = holds.filter((hold) => hold.durationS >= MIN_FIGURE_HOLD_S)
  const tremor = long.map(tremorRmsMs2).filter((rms) => rms !== null)
  return {
    ...trendFigures(report),
    durationS: report.trace.durationS,
    // The sensor's own rate, not that of the even grid it was measured on.
    rateHz: Math.round(report.quality.effectiveRateHz * 10) / 10,
    verdict: report.quality.verdict,
    holds: holds.length,
    holdS: holds.reduce((sum, hold) => sum + hold.durationS, 0),
    swayMs2: long.length > 0 ? median(long.map((hold) => hold.sway.rms.horizontal)) : null,
    tremorMs2: tremor.length > 0 ? median(tremor) : null,
    repetitions: report.session.repetitions.filter(({ holdS }) => holdS > 0).length,
    fatigueRatio: report.session.fatigue.lastOverFirst,
    planWarnings: report.session.planWarnings.length,
  }
}

/** RMS of a hold in the tremor band, m/s²; null when the recording cannot carry it. */
export function tremorRmsMs2(hold: HoldReport): number | null {
  return hold.tremor.bands.find((band) => band.name === 'tremor')?.rms ?? null
}
