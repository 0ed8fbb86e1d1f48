import type { Plan, PlanExercise, StopRules } from '#protocol/resources'
import { dayWords } from './day-words'
import { exerciseAims, planLimits, stopRuleWords } from './plan-words'
import { sameSetUp } from './set-up'
import { setUpWords } from './wording'

/**
 * What a version changed against the one before it, one line each, in the order of the plan; empty when only
 * its number did.
 */
export function planChanges(plan: Plan, before: Plan): string[] {
  return [
    ...exerciseChanges(plan.exercises, before.exercises),
    ...limitChanges(plan, before),
    ...ruleChanges(plan.stopRules, before.stopRules),
    plan.setBy === before.setBy ? null : `Set by ${plan.setBy}, before by ${before.setBy}.`,
    (plan.validUntil ?? null) === (before.validUntil ?? null)
      ? null
      : plan.validUntil
        ? `Applies until ${dayWords(plan.validUntil)}.`
        : 'No last day any more.',
    plan.notes === before.notes ? null : plan.notes === null ? 'The notes are gone.' : 'Other notes.',
  ].filter((line) => line !== null)
}

/** Exercises are the same by their id, whatever was changed about them. */
function exerciseChanges(now: readonly PlanExercise[], before: readonly PlanExercise[]): string[] {
  const added = now.filter(({ id }) => !before.some((old) => old.id === id))
  const gone = before.filter(({ id }) => !now.some((kept) => kept.id === id))
  const changed = now.flatMap((exercise) => {
    const old = before.find(({ id }) => id === exercise.id)
    if (!old) return []
    const { exercise: name } = exercise.setUp
    return [
      sameSetUp(exercise.setUp, old.setUp)
        ? null
        : `${name}: the set-up is now ${setUpWords(exercise.setUp)}, it was ${setUpWords(old.setUp)}.`,
      exercise.holdTargetS === old.holdTargetS && exercise.repetitions === old.repetitions
        ? null
        : `${name}: ${exerciseAims(exercise)}; it was ${exerciseAims(old)}.`,
      exercise.notes === old.notes ? null : `${name}: other notes for the handler.`,
    ].filter((line) => line !== null)
  })
  return [
    ...added.map(({ setUp }) => `New: ${setUpWords(setUp)}.`),
    ...gone.map(({ setUp }) => `Left out: ${setUpWords(setUp)}.`),
    ...changed,
  ]
}

function limitChanges(now: Plan, before: Plan): string[] {
  const old = planLimits(before)
  return planLimits(now).flatMap((words, k) => (words === old[k] ? [] : [`Now ${words}; it was ${old[k]}.`]))
}

const RULES = {
  swayRatio: 'the rule about sway',
  holdRatio: 'the rule about the length of holds',
  supportRise: 'the rule about hands-on time',
} as const

function ruleChanges(now: StopRules, before: StopRules): string[] {
  const none: StopRules = { swayRatio: null, holdRatio: null, supportRise: null }
  return (Object.keys(RULES) as (keyof StopRules)[]).flatMap((rule) => {
    if (now[rule] === before[rule]) return []
    const [words] = stopRuleWords({ ...none, [rule]: now[rule] })
    return [words ? `The hold view says to stop when ${words}.` : `Off: ${RULES[rule]}.`]
  })
}
