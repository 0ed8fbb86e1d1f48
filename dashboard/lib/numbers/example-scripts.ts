import { JUNIPER } from '#signal/simulator/programme'
import type { Episode, SessionScript, SimulatedDog, Support } from '#signal/simulator/script'

/** The sessions the pictures are made of, all of the invented dog. */

const quietStand: Episode = { kind: 'quiet-stand', durationS: 12 }
const rest = (durationS: number): Episode => ({ kind: 'rest', durationS })
const stepUp: Episode = { kind: 'step-up', durationS: 2 }
const stepDown: Episode = { kind: 'step-down', durationS: 1.8 }
const hold = (support: Support, durationS: number, swayMs2?: number): Episode => ({
  kind: 'hold',
  durationS,
  support,
  surface: 'foam pad',
  ...(swayMs2 === undefined ? {} : { swayMs2 }),
})
const STEADY_DOG: SimulatedDog = { ...JUNIPER, weakness: { per10S: 0, perRepetition: 0 } }

function session(
  seed: string,
  episodes: readonly Episode[],
  more: Partial<SessionScript> = {},
): SessionScript {
  return { seed: `numbers/${seed}`, rateHz: 100, dog: STEADY_DOG, episodes, ...more }
}

/** Quiet stand, one repetition of one hands-off hold, rest. */
export function oneHold(
  seed: string,
  hand: { readonly holdS: number; readonly swayMs2: number },
  more: Partial<SessionScript> = {},
): SessionScript {
  const { holdS, swayMs2 } = hand
  return session(
    seed,
    [quietStand, rest(6), stepUp, hold('hands-off', holdS, swayMs2), stepDown, rest(4)],
    more,
  )
}

/** A repetition with hands on, hands off, a corrective step, and hands off again. */
export const standWithStep = session('stand', [
  quietStand,
  rest(6),
  stepUp,
  hold('hands-on', 4),
  hold('hands-off', 7),
  { kind: 'step', durationS: 0.5, peakMs2: 2 },
  hold('hands-off', 4.5),
  stepDown,
  rest(5),
])

/** Four repetitions of a dog that tires. */
export const tiringSession = session(
  'tiring',
  [
    quietStand,
    rest(6),
    ...[8, 9, 6.5, 4].flatMap((handsOffS): Episode[] => [
      stepUp,
      hold('hands-on', 3),
      hold('hands-off', handsOffS),
      stepDown,
      rest(9),
    ]),
  ],
  { dog: { ...JUNIPER, weakness: { per10S: 0.1, perRepetition: 0.15 } } },
)

/** A dog whose trunk swings slowly, and one whose swings quickly. */
export const SLOW_DOG: SimulatedDog = { ...STEADY_DOG, naturalHz: { cc: 0.4, ml: 0.42 } }
export const QUICK_DOG: SimulatedDog = { ...STEADY_DOG, naturalHz: { cc: 1.3, ml: 1.4 } }

export const TREMBLING_DOG: SimulatedDog = {
  ...STEADY_DOG,
  tremor: { frequencyHz: 8.2, rmsMs2: 0.06, when: 'holds' },
}
