import type { NewPlan, PlanExercise, SetUp } from '#protocol/resources'
import { DEMO_COURSE, DEMO_SET_UPS } from '#signal/simulator/programme'
import type { DemoSetUp } from '#signal/simulator/programme'

/** The exercise the simulated harness follows. */
export const LIVE_EXERCISE_ID = 'foam-stand'

/** A set-up of the simulator as the records hold it. */
export function recordedSetUp(exercise: keyof typeof DEMO_SET_UPS): SetUp {
  const { surface, heightM, firmness, spacingM }: DemoSetUp = DEMO_SET_UPS[exercise]
  return {
    exercise,
    surface,
    foreToHindCm: Math.round(100 * spacingM),
    heightCm: Math.round(100 * heightM),
    firmness,
    unstable: true,
  }
}

const FOAM: PlanExercise = {
  id: LIVE_EXERCISE_ID,
  setUp: recordedSetUp('stand on foam pad'),
  holdTargetS: 10,
  repetitions: 3,
  notes: 'Steady with one hand at the chest, let go when square.',
}

const ROCKER: PlanExercise = {
  id: 'rocker-fore-paws',
  setUp: recordedSetUp('fore paws on rocker board'),
  holdTargetS: 8,
  repetitions: 3,
  notes: 'Once a week, in place of one session on the foam pad.',
}

const DAY_MS = 86_400_000

/**
 * Juniper's plan, both versions: the foam pad from the first day of the programme, the rocker board once a week
 * from its ninth week on. Numbers invented for the demo, no advice for any dog.
 *
 * @param endDateUs as of `demoSessionScripts`
 */
export function juniperPlans(endDateUs: number): [NewPlan, NewPlan] {
  const common = {
    sessionCapS: 300,
    sessionsPerDay: 1,
    daysPerWeek: 4,
    stopRules: { swayRatio: 1.5, holdRatio: 0.5, supportRise: 0.25 },
    setBy: 'Rowan Vale',
    notes: 'Invented for the demo. Stop at pain, reluctance or fatigue.',
  }
  return [
    { ...common, exercises: [FOAM], validFrom: firstDayOfWeek(endDateUs, 1) },
    {
      ...common,
      exercises: [FOAM, ROCKER],
      validFrom: firstDayOfWeek(endDateUs, DEMO_COURSE.rockerFromWeek),
    },
  ]
}

/** YYYY-MM-DD in UTC of the first day of a week of the programme, which ends on the day before `endDateUs`. */
export function firstDayOfWeek(endDateUs: number, week: number, daysLater = 0): string {
  const daysBefore = 7 * (DEMO_COURSE.weeks - week) + 6 - daysLater
  return new Date(endDateUs / 1000 - daysBefore * DAY_MS).toISOString().slice(0, 10)
}
