import { quantile } from './match.ts'
import type { SessionDecision, TremorDesign } from './tremor-sessions.ts'

/** How the tremor decisions of a group of sessions came out. */
export interface TremorSummary {
  readonly sessions: number
  readonly holds: number
  /** Share of holds, and of sessions with holds, called a tremor: sensitivity with one, else 1 − specificity. */
  readonly holdShare: number
  readonly sessionShare: number
  /** Share of holds whose peak was flagged as a look-alike. */
  readonly flaggedShare: number
  /** Error of the peak in holds rightly called a tremor, Hz; NaN without one. */
  readonly peakErrorMedianHz: number
  readonly peakErrorP95Hz: number
}

export function summariseTremor(
  decisions: readonly SessionDecision[],
  designs: readonly TremorDesign[],
): TremorSummary {
  const chosen = decisions.filter(({ design }) => designs.includes(design))
  const judged = chosen.filter(({ tremor }) => tremor !== null)
  const holds = chosen.flatMap((session) => session.holds)
  const errors = chosen.flatMap(({ design, trueHz, holds: own }) =>
    own.flatMap(({ tremor, peakHz }) =>
      tremor && typeof design === 'number' ? [Math.abs(peakHz! - trueHz!)] : [],
    ),
  )
  return {
    sessions: judged.length,
    holds: holds.length,
    holdShare: holds.filter(({ tremor }) => tremor).length / holds.length,
    sessionShare: judged.filter(({ tremor }) => tremor).length / judged.length,
    flaggedShare: holds.filter(({ lookalike }) => lookalike !== null).length / holds.length,
    peakErrorMedianHz: errors.length > 0 ? quantile(errors, 0.5) : NaN,
    peakErrorP95Hz: errors.length > 0 ? quantile(errors, 0.95) : NaN,
  }
}
