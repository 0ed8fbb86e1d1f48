import { BODY_RATE_HZ } from './body-motion.ts'
import type { BodyMotion } from './body-motion.ts'
import { raisedCosine } from './burst.ts'
import type { Random } from './random.ts'
import type { TimeSpan } from './truth.ts'

/** A rhythmic motion of slowly wandering phase and amplitude. */
export interface Rhythm extends TimeSpan {
  readonly frequencyHz: number
  /** RMS of the three axes together, m/s². */
  readonly rmsMs2: number
  readonly weights: { readonly cc: number; readonly ml: number; readonly dv: number }
  /** Amplitude of the second harmonic over that of the first. */
  readonly harmonic: number
  /** Depth and frequency of the slow change of amplitude. */
  readonly modulation: { readonly depth: number; readonly hz: number }
  /** Full width at half power of the line, Hz. */
  readonly widthHz: number
  /** Turning about DV that goes with 1 m/s² of motion, rad. */
  readonly yawRadPerMs2?: number
}

const FADE_S = 0.25

/** Adds a rhythm to the trunk, faded in and out over 0.25 s inside its span. */
export function addRhythm(motion: BodyMotion, rhythm: Rhythm, random: Random): void {
  const { fromS, toS, frequencyHz, weights, harmonic, modulation } = rhythm
  const norm = Math.hypot(weights.cc, weights.ml, weights.dv)
  const unit = Math.sqrt(2 / (1 + harmonic ** 2) / (1 + modulation.depth ** 2 / 2)) * rhythm.rmsMs2
  const offset = { cc: random.uniform(-0.6, 0.6), ml: random.uniform(-0.6, 0.6), dv: 0 }
  const start = random.uniform(0, 2 * Math.PI)
  const wave = random.uniform(0, 2 * Math.PI)
  // A phase that walks with variance 2π·width per second has a Lorentzian line of that width.
  const walk = Math.sqrt((2 * Math.PI * rhythm.widthHz) / BODY_RATE_HZ)
  let phase = start
  for (let i = Math.max(0, Math.ceil(fromS * BODY_RATE_HZ)); i < motion.n; i++) {
    const tS = i / BODY_RATE_HZ
    if (tS >= toS) break
    phase += (2 * Math.PI * frequencyHz) / BODY_RATE_HZ + walk * random.normal()
    const fade = raisedCosine((tS - fromS) / FADE_S) * raisedCosine((toS - tS) / FADE_S)
    const amplitude = fade * unit * (1 + modulation.depth * Math.sin(2 * Math.PI * modulation.hz * tS + wave))
    for (const axis of ['cc', 'ml', 'dv'] as const) {
      const angle = phase + offset[axis]
      motion.acceleration[axis][i] +=
        (weights[axis] / norm) * amplitude * (Math.sin(angle) + harmonic * Math.sin(2 * angle))
    }
    motion.yaw[i] += (rhythm.yawRadPerMs2 ?? 0) * amplitude * Math.sin(phase)
  }
}

/** Tremor of the standing dog: one narrow line in all axes. */
export function tremorRhythm(
  span: TimeSpan,
  frequencyHz: number,
  rmsMs2: number,
  weights: Rhythm['weights'] = { cc: 0.5, ml: 0.6, dv: 0.7 },
): Rhythm {
  return {
    fromS: span.fromS,
    toS: span.toS,
    frequencyHz,
    rmsMs2,
    weights,
    harmonic: 0.08,
    modulation: { depth: 0.25, hz: 0.31 },
    widthHz: 0.15,
  }
}

/** Panting moves the chest: mainly DV and CC, with a clear second harmonic. */
export function pantingRhythm(span: TimeSpan, frequencyHz: number, rmsMs2: number): Rhythm {
  return {
    fromS: span.fromS,
    toS: span.toS,
    frequencyHz,
    rmsMs2,
    weights: { cc: 0.55, ml: 0.12, dv: 0.85 },
    harmonic: 0.25,
    modulation: { depth: 0.35, hz: 0.18 },
    widthHz: 0.05,
  }
}

/** Tail wag swings the hind end: mainly ML and yaw. */
export function tailWagRhythm(span: TimeSpan, frequencyHz: number, rmsMs2: number): Rhythm {
  return {
    fromS: span.fromS,
    toS: span.toS,
    frequencyHz,
    rmsMs2,
    weights: { cc: 0.15, ml: 1, dv: 0.12 },
    harmonic: 0.15,
    modulation: { depth: 0.3, hz: 0.4 },
    widthHz: 0.1,
    yawRadPerMs2: 0.04,
  }
}

/** The bounce of led steps: DV and CC twice a stride, ML once a stride, CC the strongest horizontal axis. */
export function gaitRhythms(span: TimeSpan, stepHz: number): readonly Rhythm[] {
  const common = { fromS: span.fromS, toS: span.toS, modulation: { depth: 0.1, hz: 0.3 }, widthHz: 0.02 }
  return [
    { ...common, frequencyHz: stepHz, rmsMs2: 1.9, weights: { cc: 0.75, ml: 0.05, dv: 0.9 }, harmonic: 0.3 },
    {
      ...common,
      frequencyHz: stepHz / 2,
      rmsMs2: 0.55,
      weights: { cc: 0.1, ml: 1, dv: 0.1 },
      harmonic: 0.15,
    },
  ]
}
