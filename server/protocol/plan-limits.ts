import type { StopLimits } from '#signal/live/stop-limits'
import type { PlannedExercise } from './messages.ts'
import type { Plan, PlanExercise } from './resources.ts'

/** Types only are imported: this runs in the browser too, where no schema library goes. */

/**
 * The limits a plan sets for one of its exercises: what it leaves out stays without a limit.
 * @throws {RangeError} when the plan has no such exercise
 */
export function stopLimitsOf(plan: Plan, exerciseId: string): StopLimits {
  const { swayRatio, holdRatio, supportRise } = plan.stopRules
  return {
    sessionCapS: plan.sessionCapS,
    maxRepetitions: exerciseOf(plan, exerciseId).repetitions,
    swayRatio,
    holdRatio,
    supportRise,
    basis: planBasis(plan),
  }
}

/** Whose word the numbers of a plan are: what nobody said for this dog is named as common practice. */
export function planBasis({ version, setBy, fromPractice = [] }: Plan): string {
  const word = `plan version ${version}, set by ${setBy}`
  if (fromPractice.length === 0) return word
  return `${word}; by common practice, no source: ${fromPractice.join(', ')}`
}

/**
 * What the hold view shows of the plan.
 * @throws {RangeError} when the plan has no such exercise
 */
export function plannedExerciseOf(plan: Plan, exerciseId: string): PlannedExercise {
  const { setUp, holdTargetS, repetitions } = exerciseOf(plan, exerciseId)
  return { planVersion: plan.version, exercise: setUp.exercise, holdTargetS, repetitions }
}

function exerciseOf({ version, exercises }: Plan, exerciseId: string): PlanExercise {
  const exercise = exercises.find(({ id }) => id === exerciseId)
  if (!exercise) throw new RangeError(`version ${version} of the plan has no exercise ${exerciseId}`)
  return exercise
}
