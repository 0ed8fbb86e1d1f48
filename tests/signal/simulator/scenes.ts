import type { Episode, HoldEpisode, SessionScript, SimulatedDog, Support } from '#signal/simulator/script'

/** A dog of middling size for tests: 0.05 m/s² on the floor, twice that on the pad. */
export const DOG: SimulatedDog = { weightKg: 25, withersM: 0.6, floorSwayMs2: 0.05, unstableFactor: 2 }

export const NOISELESS = { noiseMs2: 0, gyroscopeNoiseRadS: 0 }

export function padHold(durationS: number, support: Support = 'hands-off'): HoldEpisode {
  return { kind: 'hold', durationS, support, surface: 'foam pad' }
}

/** A script of the test dog without sensor noise. */
export function scene(episodes: readonly Episode[], part: Partial<SessionScript> = {}): SessionScript {
  return { seed: 'scene', rateHz: 100, dog: DOG, sensor: NOISELESS, episodes, ...part }
}

/** Every kind of episode once, about 100 s. */
export const EVERYTHING: readonly Episode[] = [
  { kind: 'quiet-stand', durationS: 12 },
  { kind: 'walk', durationS: 5 },
  { kind: 'rest', durationS: 6 },
  { kind: 'step-up', durationS: 2 },
  padHold(4, 'hands-on'),
  padHold(8),
  { kind: 'step', durationS: 0.5 },
  padHold(6),
  { kind: 'step-down', durationS: 1.5 },
  { kind: 'sit', durationS: 8, pitchDeg: 35 },
  { kind: 'handling', durationS: 4 },
  { kind: 'step-up', durationS: 2 },
  padHold(5),
  { kind: 'sit', durationS: 5, pitchDeg: 25 },
  padHold(5),
  { kind: 'wobble-off', durationS: 2 },
  { kind: 'lie', durationS: 8 },
  { kind: 'quiet-stand', durationS: 10 },
]

export function mean(x: Float64Array): number {
  return x.reduce((sum, value) => sum + value, 0) / x.length
}

/** The series less its mean. */
export function centred(x: Float64Array): Float64Array {
  const centre = mean(x)
  return x.map((value) => value - centre)
}

/** Root mean square about the mean. */
export function deviation(x: Float64Array): number {
  const centre = mean(x)
  return Math.sqrt(x.reduce((sum, value) => sum + (value - centre) ** 2, 0) / x.length)
}
