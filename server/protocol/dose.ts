import { doseAdvice } from './dose-advice.ts'
import type { Dose } from './dose-types.ts'
import { doseWeeks } from './dose-weeks.ts'
import type { DoseInput } from './dose-weeks.ts'

/**
 * What was planned and what was done, week by week, and what the next session should mind. The server answers
 * with it, and a page without a network finds the same from what it has kept.
 */
export function doseOf(dogId: string, input: DoseInput, weeks: number): Dose {
  return { dogId, timeZone: input.timeZone, weeks: doseWeeks(input, weeks), advice: doseAdvice(input) }
}
