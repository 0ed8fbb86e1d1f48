import type { Plan, PlanExercise } from './resources.ts'

/** Types only are imported: this runs in the browser too, where no schema library goes. */

/** Who says that half is less: nobody that could be cited. */
export const HALVING_BASIS = 'halving is common practice, no source'

/**
 * The plan with half of what it allows, for one day: repetitions and sessions a day rounded down but never below
 * one, hold targets and the session cap halved (the cap to whole seconds). What the plan leaves open stays open,
 * and no number is larger than the plan's. Stop rules, words and days stay.
 */
export function cutBackPlan(plan: Plan): Plan {
  return {
    ...plan,
    exercises: plan.exercises.map(cutBackExercise),
    sessionCapS: plan.sessionCapS === null ? null : Math.max(1, Math.floor(plan.sessionCapS / 2)),
    sessionsPerDay: plan.sessionsPerDay === null ? null : halfOf(plan.sessionsPerDay),
  }
}

function cutBackExercise(exercise: PlanExercise): PlanExercise {
  const { repetitions, holdTargetS } = exercise
  return {
    ...exercise,
    repetitions: repetitions === null ? null : halfOf(repetitions),
    holdTargetS: holdTargetS === null ? null : holdTargetS / 2,
  }
}

const halfOf = (count: number) => Math.max(1, Math.floor(count / 2))

/**
 * What "cut back" means today: each number beside the plan's own. Exercise by exercise when they differ.
 */
export function cutBackWords(plan: Plan | null): string {
  if (!plan) return 'fewer repetitions, shorter holds and a shorter session than last time'
  const half = cutBackPlan(plan)
  const each = plan.exercises.map((exercise, k) => exerciseWords(exercise, half.exercises[k]))
  const alike = each.every((words) => words === each[0])
  const exercises = alike
    ? each[0]
    : plan.exercises.map(({ setUp }, k) => `${setUp.exercise}: ${each[k]}`).join('; ')
  const session = [
    plan.sessionCapS === null || half.sessionCapS === null
      ? 'a shorter session than last time'
      : `no longer than ${clock(half.sessionCapS)} of the plan's ${clock(plan.sessionCapS)} min`,
    plan.sessionsPerDay === null || plan.sessionsPerDay === 1
      ? null
      : `at most ${half.sessionsPerDay} of the plan's ${plan.sessionsPerDay} sessions a day`,
  ].filter((part) => part !== null)
  return [exercises, ...session].join(alike ? ', ' : '; ')
}

function exerciseWords(plan: PlanExercise, half: PlanExercise): string {
  const repetitions =
    plan.repetitions === null
      ? 'fewer repetitions than last time'
      : plan.repetitions === 1
        ? 'no more than the one repetition of the plan'
        : `at most ${half.repetitions} of the plan's ${plan.repetitions} repetitions`
  const hold =
    plan.holdTargetS === null || half.holdTargetS === null
      ? 'shorter holds than last time'
      : `holds of ${seconds(half.holdTargetS)} instead of ${seconds(plan.holdTargetS)} s`
  return `${repetitions}, ${hold}`
}

/** Two decimals, below 0.1 s two digits, cut off: a number is never rounded up past the half, nor down to none. */
function seconds(valueS: number): string {
  const scale = 10 ** Math.max(2, 1 - Math.floor(Math.log10(valueS)))
  return String(Math.floor(valueS * scale + 1e-6) / scale)
}

const clock = (valueS: number) =>
  `${Math.floor(valueS / 60)}:${String(Math.floor(valueS) % 60).padStart(2, '0')}`
