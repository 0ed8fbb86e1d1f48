import { STANDARD_GRAVITY_MS2 } from '#signal/constants'
import { median } from '#signal/trace/median'
import type { MotionSample } from './motion-events'
import { longStepShare, MAX_LONG_SHARE, unevenWords } from './unevenness'
import { valueStep } from './value-step'

/** How long the phone lies flat, s. */
export const FLAT_S = 3
/** Rates the live protocol and the analysis can carry, Hz: tremor needs 30 and more. */
const MIN_RATE_HZ = 30
const MAX_RATE_HZ = 1000
/** How many events apart the stamps are compared for the rate, in turn. */
const RATE_LADDER = [1, 8, 64]
const RATE_PRECISION = 0.002
/** |a| further than this from gravity is no resting accelerometer (as for recordings). */
const GRAVITY_TOLERANCE = 0.2
/** A phone flat on a table leans less; the cosine of 25°. */
const MIN_FLAT_COSINE = Math.cos((25 * Math.PI) / 180)
/** Standard deviation of an axis while lying, m/s²: handled phones exceed it, rounded ones do not. */
const MAX_STILL_MS2 = 0.15

/** What lying flat tells of a phone. */
export interface FlatPhone {
  /**
   * Times the browser's acceleration gives specific force. The standard wants +9.8 on z for a phone flat
   * with its screen up; some engines mirror all three axes (−9.8). The screen is up: somebody tapped it.
   */
  readonly sign: 1 | -1
  /** Events per second, Hz: the grid of the recording. */
  readonly rateHz: number
  readonly channels: 3 | 6
  /** Smallest step of the acceleration, m/s²; null when no rounding shows. */
  readonly resolutionMs2: number | null
  /** Largest standard deviation of an axis, m/s². */
  readonly noiseMs2: number
}

export type FlatOutcome = { readonly phone: FlatPhone } | { readonly refusal: string }

/** What `FLAT_S` of samples of the lying phone say, or in words why they cannot be used. */
export function flatPhone(samples: readonly MotionSample[]): FlatOutcome {
  const stampsMs = samples.map(({ atMs }) => atMs)
  const share = longStepShare(stampsMs)
  // Before the rate: a phone that hangs now and then is slow on average too.
  if (samples.length >= 10 && share > MAX_LONG_SHARE) return refused(unevenWords(share))
  const rateHz = eventRateHz(stampsMs)
  if (rateHz < MIN_RATE_HZ || rateHz > MAX_RATE_HZ) {
    return refused(
      `This phone gave ${samples.length} readings in ${FLAT_S} s; at least ${MIN_RATE_HZ} a second are needed. ` +
        'Switch battery saving off, keep this page in front, and try again.',
    )
  }
  const axes = [0, 1, 2].map((axis) => Float64Array.from(samples, ({ acc }) => acc[axis]))
  const means = axes.map((axis) => axis.reduce((sum, value) => sum + value, 0) / axis.length)
  const noiseMs2 = Math.max(...axes.map((axis, i) => deviation(axis, means[i])))
  const norm = Math.hypot(...means)
  if (noiseMs2 > MAX_STILL_MS2) {
    return refused('The phone moved. Put it on a table or the floor, take your hand away, and try again.')
  }
  if (Math.abs(norm / STANDARD_GRAVITY_MS2 - 1) > GRAVITY_TOLERANCE) {
    return refused(
      `At rest this phone reads ${norm.toFixed(1)} m/s² instead of gravity's 9.8: its accelerometer cannot be used.`,
    )
  }
  if (Math.abs(means[2]) < MIN_FLAT_COSINE * norm) {
    return refused(
      'The phone does not lie flat. Lay it on a level surface with its screen up, and try again.',
    )
  }
  return {
    phone: {
      sign: means[2] > 0 ? 1 : -1,
      rateHz,
      channels: samples.every(({ gyr }) => gyr !== null) ? 6 : 3,
      resolutionMs2: valueStep(axes),
      noiseMs2,
    },
  }
}

/**
 * Events per second, Hz, not slowed down by events that came late or never: the median step gives a first
 * period, which tells how many periods lie between stamps 8 events apart, those give a better one, and so
 * on for 64. A whole number when within 0.2 % of it, which is what 3 s can tell (phones poll their sensors
 * at whole rates); 0 with fewer than two stamps.
 */
export function eventRateHz(stampsMs: readonly number[]): number {
  if (stampsMs.length < 2) return 0
  let periodMs: number | null = null
  for (const apart of RATE_LADDER) {
    if (stampsMs.length <= apart) break
    const periodsMs = stampsMs.slice(apart).map((atMs, i) => {
      const spanMs = atMs - stampsMs[i]
      return spanMs / (periodMs === null ? 1 : Math.max(1, Math.round(spanMs / periodMs)))
    })
    periodMs = median(Float64Array.from(periodsMs))
  }
  if (!periodMs) return 0
  const rateHz = 1000 / periodMs
  const whole = Math.round(rateHz)
  return Math.abs(rateHz / whole - 1) < RATE_PRECISION ? whole : Math.round(rateHz * 100) / 100
}

function refused(refusal: string): FlatOutcome {
  return { refusal }
}

function deviation(axis: Float64Array, mean: number): number {
  return Math.sqrt(axis.reduce((sum, value) => sum + (value - mean) ** 2, 0) / axis.length)
}
