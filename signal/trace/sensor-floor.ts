import type { Run } from './gaps.ts'
import { median } from './median.ts'
import type { Vector3Series } from './trace.ts'

/** Differences below this, m/s², are rounding of the arithmetic, not steps of a sensor. */
const MIN_STEP_MS2 = 1e-6
/** MAD to standard deviation for a normal distribution. */
const MAD_TO_SD = 1.4826
/** The differences x[i−1] − 2x[i] + x[i+1] of white noise have √6 times its standard deviation. */
const SECOND_DIFFERENCE_GAIN = Math.sqrt(6)
/** Length of the stretch that is searched for, s, and by how much the search moves on, s. */
const WINDOW_S = 1
const HOP_S = 0.5
/** With fewer samples a robust spread says nothing. */
const MIN_WINDOW_SAMPLES = 10

/** Smallest non-zero difference between neighbouring samples of any axis, m/s²; 0 when nothing changes. */
export function quantisationStep({ x, y, z }: Vector3Series): number {
  let step = Infinity
  for (const axis of [x, y, z]) {
    let before = axis[0]
    for (let i = 1; i < axis.length; i++) {
      const value = axis[i]
      const difference = Math.abs(value - before)
      before = value
      if (difference < step && difference > MIN_STEP_MS2) step = difference
    }
  }
  return step === Infinity ? 0 : step
}

export interface SensorFloor {
  /** White noise per axis, m/s² RMS. */
  readonly noiseMs2: number
  /** Mean |a| over the same second, m/s². */
  readonly restNormMs2: number
}

/**
 * Noise and resting norm of the quietest second (least variance summed over the axes), or null
 * when no gap-free second is there.
 *
 * The noise is the RMS over the axes of 1.4826 · MAD(second differences) / √6, which passes over
 * slow movement; not less than the rounding noise step/√12. It is an upper bound when the dog
 * trembles near half the sample rate.
 *
 * @param stepMs2 quantisation step, m/s²
 * @param runs the gap-free runs of the trace
 */
export function sensorFloor(
  acc: Vector3Series,
  rateHz: number,
  stepMs2: number,
  runs: readonly Run[],
): SensorFloor | null {
  const quietest = quietestSecond(acc, rateHz, runs)
  if (quietest === null) return null
  const axes = [acc.x, acc.y, acc.z].map((axis) => axis.subarray(quietest.from, quietest.to))
  const variance = axes.reduce((sum, axis) => sum + highFrequencyNoise(axis) ** 2, 0) / 3
  let norm = 0
  for (let i = 0; i < axes[0].length; i++) norm += Math.hypot(axes[0][i], axes[1][i], axes[2][i])
  return {
    noiseMs2: Math.max(Math.sqrt(variance), stepMs2 / Math.sqrt(12)),
    restNormMs2: norm / axes[0].length,
  }
}

function quietestSecond(
  { x, y, z }: Vector3Series,
  rateHz: number,
  runs: readonly Run[],
): { from: number; to: number } | null {
  const length = Math.round(WINDOW_S * rateHz)
  const hop = Math.max(1, Math.round(HOP_S * rateHz))
  if (length < MIN_WINDOW_SAMPLES) return null
  let bestFrom = -1
  let least = Infinity
  for (const run of runs) {
    for (let from = run.from; from + length <= run.to; from += hop) {
      // Variances only add up: most windows are known to move more after one axis.
      let spread = variance(x, from, from + length)
      if (spread < least) spread += variance(y, from, from + length)
      if (spread < least) spread += variance(z, from, from + length)
      if (spread < least) {
        least = spread
        bestFrom = from
      }
    }
  }
  return bestFrom < 0 ? null : { from: bestFrom, to: bestFrom + length }
}

function variance(axis: Float64Array, from: number, to: number): number {
  let mean = 0
  for (let i = from; i < to; i++) mean += axis[i]
  mean /= to - from
  let sum = 0
  for (let i = from; i < to; i++) {
    const deviation = axis[i] - mean
    sum += deviation * deviation
  }
  return sum / (to - from)
}

function highFrequencyNoise(axis: Float64Array): number {
  const differences = Float64Array.from(
    { length: axis.length - 2 },
    (_, i) => axis[i] - 2 * axis[i + 1] + axis[i + 2],
  )
  const middle = median(differences)
  const deviations = differences.map((value) => Math.abs(value - middle))
  return (MAD_TO_SD * median(deviations)) / SECOND_DIFFERENCE_GAIN
}
