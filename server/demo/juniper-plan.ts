import type { NewPlan } from '#protocol/resources'

/** Distance between fore and hind paws in every session of the programme, cm. */
export const SPACING_CM = 52

/** The exercise the simulated harness follows. */
export const LIVE_EXERCISE_ID = 'foam-stand'

/** Juniper's plan: numbers invented for the demo, no advice for any dog. */
export function juniperPlan(validFrom: string): NewPlan {
  return {
    exercises: [
      {
        id: LIVE_EXERCISE_ID,
        setUp: { exercise: 'stand on foam pad', surface: 'foam pad', foreToHindCm: SPACING_CM },
        holdTargetS: 8,
        repetitions: 3,
        notes: 'Steady with one hand at the chest, let go when square.',
      },
      {
        id: 'rocker-fore-paws',
        setUp: { exercise: 'fore paws on rocker board', surface: 'rocker board', foreToHindCm: SPACING_CM },
        holdTargetS: 6,
        repetitions: 3,
        notes: null,
      },
    ],
    sessionCapS: 240,
    sessionsPerDay: 1,
    daysPerWeek: 4,
    stopRules: { swayRatio: 1.5, holdRatio: 0.5, supportRise: 0.25 },
    setBy: 'Rowan Vale',
    validFrom,
    notes: 'Invented for the demo. Stop at pain, reluctance or fatigue.',
  }
}
