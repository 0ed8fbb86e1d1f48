import type { NewPlan, PlanExercise, StopRules } from '#protocol/resources'
import { clock, decimal, percent, plannedSeconds } from './format'

/** Common practice, no source; the vet or the therapist sets what holds for a dog. */
export const USUAL_STOP_RULES: StopRules = { swayRatio: 1.5, holdRatio: 0.5, supportRise: 0.25 }
export const USUAL_SESSION_CAP_S = 300
export const USUAL_HOLD_WORDS = '5–10 s'
export const USUAL_REPETITIONS = 3

/** What applies while no plan was given: the limits of the live stop cue. */
export const NO_PLAN_WORDS =
  'No plan was given, so only common practice limits the session: holds of 5–10 s, about three repetitions, about 5 min in all, and less when the dog is tired.'

/** "holds of 8 s, 3 repetitions", or what the plan leaves open. */
export function exerciseAims({ holdTargetS, repetitions }: PlanExercise): string {
  const hold = holdTargetS === null ? 'no hold target' : `holds of ${plannedSeconds(holdTargetS)}`
  const times =
    repetitions === null
      ? 'no number of repetitions'
      : repetitions === 1
        ? '1 repetition'
        : `${repetitions} repetitions`
  return `${hold}, ${times}`
}

/** How much the plan allows, one line each. */
export function planLimits(plan: Pick<NewPlan, 'sessionCapS' | 'sessionsPerDay' | 'daysPerWeek'>): string[] {
  return [
    plan.sessionCapS === null ? 'no session cap' : `a session up to ${clock(plan.sessionCapS)}`,
    plan.sessionsPerDay === null
      ? 'sessions a day: not said'
      : plan.sessionsPerDay === 1
        ? '1 session a day'
        : `${plan.sessionsPerDay} sessions a day`,
    plan.daysPerWeek === null
      ? 'days a week: not said'
      : plan.daysPerWeek === 1
        ? '1 day a week'
        : `${plan.daysPerWeek} days a week`,
  ]
}

/** The stop rules as sentences; those switched off are left out. */
export function stopRuleWords({ swayRatio, holdRatio, supportRise }: StopRules): string[] {
  return [
    swayRatio === null ? null : `a hold sways more than ${decimal(swayRatio, 1)} times as much as the first`,
    holdRatio === null ? null : `a hold ends before ${percent(holdRatio)} of the first one's length`,
    supportRise === null
      ? null
      : `hands are on the dog ${decimal(supportRise * 100, 0)} percentage points more than in the first repetition`,
  ].filter((line): line is string => line !== null)
}

/** Done against allowed: "1 of 2 today". */
export function doneOf(done: number, allowed: number | null, when: string): string {
  return allowed === null ? `${done} ${when}` : `${done} of ${allowed} ${when}`
}

/** "1 day", "3 days". */
export const plural = (n: number, one: string, many = `${one}s`) => `${n} ${n === 1 ? one : many}`
