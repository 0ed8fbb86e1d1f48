import type { TrendRow } from '#server/store/trend-source'
import type { MeasureName } from '#signal/trend/measures'
import { TREND_MEASURES } from '#signal/trend/measures'
import { leastSwayMs2 } from '#signal/sway/least-sway'

/**
 * Whether a session's value speaks of the steps of its sensor instead of the dog: every measure on pieces of
 * holds is taken from the same few steps that hide its sway. Hold times do not depend on them.
 */
export function isBelowSensor({ figures, resolutionMs2 }: TrendRow, measure: MeasureName): boolean {
  const least = leastSwayMs2(resolutionMs2)
  const swayMs2 = figures.comparableSwayMs2
  return TREND_MEASURES[measure].onPieces && least !== null && swayMs2 !== null && swayMs2 < least
}
