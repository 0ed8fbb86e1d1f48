import type { RepetitionReport, SessionReport } from '../report-types.ts'
import { theilSen } from '../trend/theil-sen.ts'

/**
 * How sway changed from repetition to repetition: Theil–Sen slope of the horizontal RMS over the
 * repetition number (m/s² per repetition; Sen 1968) and last ÷ first. With support marks only hands-off
 * time counts: a steadying hand would pass for steadiness. Null with a reason below two repetitions
 * whose sway is known. Rising sway is a usual sign of tiring, not a proof of it.
 */
export function fatigueOver(repetitions: readonly RepetitionReport[]): SessionReport['fatigue'] {
  const sway = repetitions.flatMap((repetition) => (repetition.swayRms === null ? [] : [repetition.swayRms]))
  if (sway.length < 2) {
    return {
      slopePerRepetition: null,
      lastOverFirst: null,
      reason: `needs at least two repetitions with measured sway, found ${sway.length}`,
    }
  }
  const { slope } = theilSen(
    sway.map((_, i) => i + 1),
    sway,
  )
  return { slopePerRepetition: slope, lastOverFirst: sway.at(-1)! / sway[0] }
}
