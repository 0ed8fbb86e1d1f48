import { BODY_RATE_HZ, createAxisArrays } from './body-motion.ts'
import type { BodyMotion } from './body-motion.ts'
import type { Random } from './random.ts'
import { addTone } from './tones.ts'
import type { TimeSpan } from './truth.ts'

/** A stretch of lively motion with smooth ends: a step, a mount, handling, fidgeting. */
export interface Burst extends TimeSpan {
  /** Length of the raised-cosine rise and fall, s. */
  readonly riseS: number
  readonly fallS: number
  /** Largest translation acceleration |a|, m/s². */
  readonly peakMs2: number
  readonly bandHz: readonly [number, number]
  /** Relative strength by axis. */
  readonly weights: { readonly cc: number; readonly ml: number; readonly dv: number }
  /** Amplitude of the trunk's wobble in pitch and roll at the peak, degrees. */
  readonly wobbleDeg: number
  /** Between the ends the envelope moves irregularly down to this share; 1 keeps it flat. */
  readonly valley: number
}

/** Where a raised cosine passes 5 % of its top, as a share of its length. */
const FIVE_PERCENT = Math.acos(0.9) / Math.PI

/** The part of a burst in which its envelope is above 5 % of its peak. */
export function audibleSpan(burst: Pick<Burst, 'fromS' | 'toS' | 'riseS' | 'fallS'>): TimeSpan {
  return { fromS: burst.fromS + FIVE_PERCENT * burst.riseS, toS: burst.toS - FIVE_PERCENT * burst.fallS }
}

/** Adds a burst of band-limited motion to the trunk. */
export function addBurst(motion: BodyMotion, burst: Burst, random: Random): void {
  const first = Math.max(0, Math.ceil(burst.fromS * BODY_RATE_HZ))
  const last = Math.min(motion.n, Math.ceil(burst.toS * BODY_RATE_HZ))
  const count = last - first
  if (count <= 0) return
  const envelope = burstEnvelope(burst, first, count, random)
  const axes = createAxisArrays(count)
  let peak = 0
  for (const axis of ['cc', 'ml', 'dv'] as const) {
    addTones(axes[axis], burst.weights[axis], burst.bandHz, random)
  }
  for (let i = 0; i < count; i++) {
    peak = Math.max(peak, envelope[i] * Math.hypot(axes.cc[i], axes.ml[i], axes.dv[i]))
  }
  const pitch = new Float64Array(count)
  const roll = new Float64Array(count)
  addTones(pitch, 1, [1, 3], random)
  addTones(roll, 1, [1, 3], random)
  const wobble = ((burst.wobbleDeg * Math.PI) / 180) * 0.7
  for (let i = 0; i < count; i++) {
    const scale = (envelope[i] * burst.peakMs2) / peak
    motion.acceleration.cc[first + i] += scale * axes.cc[i]
    motion.acceleration.ml[first + i] += scale * axes.ml[i]
    motion.acceleration.dv[first + i] += scale * axes.dv[i]
    // Squared: a tilt whose envelope has a corner would knock when differentiated.
    motion.pitch[first + i] += wobble * envelope[i] ** 2 * pitch[i]
    motion.roll[first + i] += wobble * envelope[i] ** 2 * roll[i]
  }
}

function burstEnvelope(burst: Burst, first: number, count: number, random: Random): Float64Array {
  const ripple = [random.uniform(0.7, 1.1), random.uniform(1.6, 2.3)]
  const phase = [random.uniform(0, 2 * Math.PI), random.uniform(0, 2 * Math.PI)]
  return Float64Array.from({ length: count }, (_, i) => {
    const tS = (first + i) / BODY_RATE_HZ
    const rise = raisedCosine((tS - burst.fromS) / burst.riseS)
    const fall = raisedCosine((burst.toS - tS) / burst.fallS)
    const wave =
      (2 +
        Math.sin(2 * Math.PI * ripple[0] * tS + phase[0]) +
        Math.sin(2 * Math.PI * ripple[1] * tS + phase[1])) /
      4
    return rise * fall * (burst.valley + (1 - burst.valley) * wave)
  })
}

/** 0 below 0, 1 above 1, half a cosine between. */
export function raisedCosine(u: number): number {
  return u <= 0 ? 0 : u >= 1 ? 1 : (1 - Math.cos(Math.PI * u)) / 2
}

/** Six tones of random frequency and phase, weaker towards the top of the band, together of RMS `weight`. */
function addTones(
  out: Float64Array,
  weight: number,
  [fromHz, toHz]: readonly [number, number],
  random: Random,
): void {
  const tones = Array.from({ length: 6 }, (_, k) => {
    const frequencyHz = fromHz + ((toHz - fromHz) * (k + random.uniform())) / 6
    return { frequencyHz, amplitude: Math.sqrt(fromHz / frequencyHz), phase: random.uniform(0, 2 * Math.PI) }
  })
  const rms = Math.sqrt(tones.reduce((sum, { amplitude }) => sum + amplitude ** 2 / 2, 0))
  for (const { frequencyHz, amplitude, phase } of tones) {
    addTone(out, (weight / rms) * amplitude, frequencyHz, phase)
  }
}
