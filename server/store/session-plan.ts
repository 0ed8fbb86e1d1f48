import type { PlannedExercise } from '#protocol/messages'
import { plannedExerciseOf, stopLimitsOf } from '#protocol/plan-limits'
import type { SessionSummary } from '#protocol/resources'
import { COMMON_PRACTICE_STOP_LIMITS } from '#signal/live/stop-limits'
import type { StopLimits } from '#signal/live/stop-limits'
import type { Records } from './records.ts'

/** What a session was to be: the exercise of the plan it follows, and whose limits hold. */
export interface SessionPlan {
  readonly planned: PlannedExercise | null
  readonly limits: StopLimits
}

/** The plan's word for a session that follows one, common practice for others. */
export async function sessionPlan(
  { plans }: Records,
  { dogId, planned }: Pick<SessionSummary, 'dogId' | 'planned'>,
): Promise<SessionPlan> {
  const plan = planned && (await plans.plan(dogId, planned.planVersion))
  if (!plan) return { planned: null, limits: COMMON_PRACTICE_STOP_LIMITS }
  const { exerciseId } = planned
  return { planned: plannedExerciseOf(plan, exerciseId), limits: stopLimitsOf(plan, exerciseId) }
}
