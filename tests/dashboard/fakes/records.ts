import type { Plan, SessionSummary } from '#protocol/resources'
import type { HoldReport } from '#signal/report-types'

/** A finished session with every measure. */
export function anySession(): SessionSummary {
  return {
    id: 's',
    dogId: 'd',
    dogName: 'Juniper',
    sensor: 'upload',
    fileName: 'trace.csv',
    setUp: { exercise: 'stand on foam pad', surface: 'foam pad' },
    mount: 'auto',
    state: 'finished',
    startedAt: '2026-03-01T10:00:00Z',
    createdAt: '2026-03-01T12:00:00Z',
    durationS: 120,
    rateHz: 100,
    verdict: 'good',
    holds: 3,
    holdS: 24,
    handsOffHoldS: 18,
    bestHoldS: 8.4,
    swayMs2: 0.04,
    tremorMs2: 0.02,
    comparableSwayMs2: 0.038,
    comparableTremorMs2: 0.019,
    analysisVersion: '1',
    problem: null,
    planned: null,
    checkIn: null,
    version: 1,
    setUpConfirmedAt: null,
    excluded: null,
    repetitions: 2,
    supportShare: null,
    fatigueRatio: null,
    planWarnings: 0,
  }
}

/** Two exercises on pad and board, within common practice. */
export function anyPlan(): Plan {
  return {
    dogId: 'd',
    version: 2,
    createdAt: '2026-02-01T09:00:00Z',
    exercises: [
      {
        id: 'pad',
        setUp: { exercise: 'stand on foam pad', surface: 'foam pad', foreToHindCm: 45, leftToRightCm: 20 },
        holdTargetS: 8,
        repetitions: 3,
        notes: null,
      },
      {
        id: 'board',
        setUp: { exercise: 'fore paws on rocker board', surface: 'rocker board' },
        holdTargetS: 5,
        repetitions: 2,
        notes: 'Hands at the hips.',
      },
    ],
    sessionCapS: 300,
    sessionsPerDay: 1,
    daysPerWeek: 5,
    stopRules: { swayRatio: 1.5, holdRatio: 0.5, supportRise: 0.25 },
    setBy: 'Rowan Vale',
    validFrom: '2026-02-01',
    notes: null,
  }
}

/** A hold with every measure and a distinct tremor peak. */
export function anyHold(): HoldReport {
  const pair = { ml: 1, cc: 1 }
  return {
    fromS: 30,
    toS: 38,
    durationS: 8,
    handsOffS: 6,
    role: 'exercise',
    endedBy: 'step',
    sway: {
      rms: { ml: 0.03, cc: 0.03, dv: 0.01, horizontal: 0.042 },
      range: { ml: 0.1, cc: 0.1 },
      path: 2,
      pathRate: 0.25,
      jerk: 0.5,
      ellipse: {
        area: 0.01,
        major: 0.07,
        minor: 0.05,
        angleDeg: 20,
        n: 800,
        convention: '95% prediction ellipse (exact F)',
      },
      spectral: { totalPower: pair, f50Hz: pair, f95Hz: pair, centroidHz: pair, dispersion: pair },
      rmsInterval: null,
      steadinessRatio: 1.6,
    },
    tremor: {
      bands: [
        {
          name: 'tremor',
          fromHz: 4,
          toHz: 12,
          power: 0.0004,
          rms: 0.02,
          peakHz: 6.2,
          peakWidthHz: 0.9,
          distinct: true,
          lookalike: null,
        },
      ],
    },
  }
}
