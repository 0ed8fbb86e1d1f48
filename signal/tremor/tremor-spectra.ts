import type { DogAxes } from '../sway/dog-axes.ts'
import { sumPsd, welch } from '../spectrum/welch.ts'
import type { Psd } from '../spectrum/welch.ts'

/** Densities of one interval, m²/s⁴/Hz, per axis and summed, on the same bins. */
export interface TremorSpectra {
  readonly ml: Psd
  readonly cc: Psd
  readonly dv: Psd
  readonly sum: Psd
  /** Density of ML + CC, made when asked for: with those of ML and CC it tells how the two go together. */
  readonly diagonal: () => Psd
}

/** Welch segments: 2 s, or 4 s once that leaves enough of them, s. */
const SEGMENT_S = 2
const LONG_SEGMENT_S = 4
const LONG_INTERVAL_S = 20

/**
 * Welch densities of the unfiltered samples of one interval: segments of 2 s (4 s when the interval
 * lasts 20 s or more, the whole interval when it is shorter than a segment), 50 % overlap.
 * @throws {RangeError} if the interval has fewer than 3 samples
 */
export function tremorSpectra(interval: DogAxes, rateHz: number): TremorSpectra {
  const n = interval.ml.length
  const segmentS = n >= LONG_INTERVAL_S * rateHz ? LONG_SEGMENT_S : SEGMENT_S
  const segmentSamples = Math.min(n, Math.round(segmentS * rateHz))
  const ml = welch(interval.ml, rateHz, { segmentSamples })
  const cc = welch(interval.cc, rateHz, { segmentSamples })
  const dv = welch(interval.dv, rateHz, { segmentSamples })
  let diagonal: Psd | null = null
  const diagonalOnce = () => (diagonal ??= welch(sumOf(interval.ml, interval.cc), rateHz, { segmentSamples }))
  return { ml, cc, dv, sum: sumPsd([ml, cc, dv]), diagonal: diagonalOnce }
}

function sumOf(a: Float64Array, b: Float64Array): Float64Array {
  const sum = new Float64Array(a.length)
  for (let i = 0; i < sum.length; i++) sum[i] = a[i] + b[i]
  return sum
}
