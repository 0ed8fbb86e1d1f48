import { simulateSession } from '#signal/simulator/session'
import { JUNIPER } from '#signal/simulator/programme'
import type { Trace } from '#signal/trace/trace'

/** A short simulated session: a marked quiet stand on the floor and one hold on foam; 100 Hz, about 35 s. */
export function sessionTrace(seed = 1): Trace {
  const { trace } = simulateSession({
    seed,
    rateHz: 100,
    startedAtUs: Date.UTC(2026, 2, 1, 17, 30) * 1000,
    dog: JUNIPER,
    episodes: [
      { kind: 'quiet-stand', durationS: 12 },
      { kind: 'step-up', durationS: 2 },
      { kind: 'hold', durationS: 14, support: 'hands-off', surface: 'foam pad' },
      { kind: 'step-down', durationS: 2 },
      { kind: 'rest', durationS: 5 },
    ],
  })
  return trace
}
