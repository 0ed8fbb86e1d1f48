import type { NewPlan } from '#protocol/resources'

/** A plan of the invented therapist, with changes. */
export function madePlan(changes: Partial<NewPlan> = {}): NewPlan {
  return {
    exercises: [
      {
        id: 'foam-stand',
        setUp: { exercise: 'stand on foam pad', surface: 'foam pad', foreToHindCm: 45, leftToRightCm: 18 },
        holdTargetS: 8,
        repetitions: 3,
        notes: 'Treat on the floor between repetitions.',
      },
      {
        id: 'rocker',
        setUp: { exercise: 'fore paws on rocker board', surface: 'rocker board' },
        holdTargetS: null,
        repetitions: null,
        notes: null,
      },
    ],
    sessionCapS: 240,
    sessionsPerDay: 1,
    daysPerWeek: 5,
    stopRules: { swayRatio: 1.4, holdRatio: 0.5, supportRise: null },
    setBy: 'Rowan Vale',
    validFrom: '2026-03-01',
    notes: null,
    ...changes,
  }
}
