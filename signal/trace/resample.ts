import { butterworthLowPass } from '../filter/butterworth.ts'
import { gapFreeRuns, longestStepS } from './gaps.ts'
import { pchip } from './pchip.ts'
import { sosfiltfilt } from '../filter/zero-phase.ts'
import type { Trace, UniformStretch, UniformTrace, Vector3Series } from './trace.ts'

/** Rates a recording is brought to when none is asked for, Hz: those common in body-worn sensors. */
export const TARGET_RATES_HZ: readonly number[] = [25, 50, 52, 100, 104, 200]
/** Stretches of fewer samples, or shorter than `MIN_STRETCH_S`, cannot be interpolated sensibly. */
export const MIN_STRETCH_SAMPLES = 3
export const MIN_STRETCH_S = 0.1
/** Below this ratio of target to source rate the source is low-passed first. */
const DOWNSAMPLING_RATIO = 0.9
/** Corner of that low-pass as a share of the target rate: below its half, where folding begins. */
const ANTI_ALIAS_SHARE = 0.4
/** Order 8, forward and backward: −31 dB at half the target rate, −1.5 dB at 90 % of the corner. */
const ANTI_ALIAS_ORDER = 8
/** Stamps may miss the grid by this much, s, or this share of a period, and still be even. */
const EVEN_TOLERANCE_S = 1e-4
const EVEN_TOLERANCE_PERIODS = 0.01

export interface ResampleOptions {
  /** Rate of the result, Hz. Default: the nearest of 25, 50, 52, 100, 104, 200 to the rate of the trace. */
  readonly rateHz?: number
  /** What the stamps can show, s (`ParsedTrace.stampResolutionS`): rounding of that size is not unevenness. Default 0. */
  readonly stampResolutionS?: number
}

/**
 * The trace on an even time grid, one stretch per gap-free run; never across a gap.
 *
 * Each stretch starts at its first sample. Samples that already stand on the grid, within the
 * rounding of their stamps, are kept as they are, as views on the memory of the trace. Others are interpolated (PCHIP). When the
 * target is below 0.9 of the source rate, the stretch is first put on an even grid at the source
 * rate and low-passed (zero-phase Butterworth, order 8, corner 0.4 of the target rate).
 * Stretches of fewer than 3 samples or less than 0.1 s are dropped and counted in `droppedSamples`.
 *
 * @throws {RangeError} when a rate is not positive
 */
export function uniformStretches(trace: Trace, options: ResampleOptions = {}): UniformTrace {
  const rateHz = options.rateHz ?? nearestTargetRate(trace.rateHz)
  if (!(rateHz > 0 && Number.isFinite(rateHz))) {
    throw new RangeError(`uniformStretches requires rateHz > 0, got ${rateHz}`)
  }
  // Stamps coarser than half a gap cannot show that samples are even, nor keep stretches from overlapping.
  const largestS = longestStepS(trace.rateHz) / 2
  const toleranceS = (hz: number) =>
    Math.min(largestS, Math.max(options.stampResolutionS ?? 0, EVEN_TOLERANCE_S, EVEN_TOLERANCE_PERIODS / hz))
  const stretches: UniformStretch[] = []
  let droppedSamples = 0
  for (const { from, to } of gapFreeRuns(trace.t, trace.rateHz)) {
    const t = trace.t.subarray(from, to)
    if (to - from < MIN_STRETCH_SAMPLES || t[t.length - 1] - t[0] < MIN_STRETCH_S * (1 - 1e-9)) {
      droppedSamples += to - from
      continue
    }
    const convert = converter(t, trace.rateHz, rateHz, toleranceS)
    const convertAll = ({ x, y, z }: Vector3Series): Vector3Series => ({
      x: convert(x.subarray(from, to)),
      y: convert(y.subarray(from, to)),
      z: convert(z.subarray(from, to)),
    })
    stretches.push({
      startS: t[0],
      acc: convertAll(trace.acc),
      ...(trace.gyr === undefined ? {} : { gyr: convertAll(trace.gyr) }),
    })
  }
  return { rateHz, stretches, droppedSamples }
}

/** The nearest of the target rates, Hz. */
export function nearestTargetRate(rateHz: number): number {
  if (!(rateHz > 0)) throw new RangeError(`nearestTargetRate requires rateHz > 0, got ${rateHz}`)
  return TARGET_RATES_HZ.reduce((best, rate) =>
    Math.abs(rate - rateHz) < Math.abs(best - rateHz) ? rate : best,
  )
}

/** What turns one channel of a stretch into evenly spaced samples. */
function converter(
  t: Float64Array,
  sourceHz: number,
  targetHz: number,
  toleranceS: (hz: number) => number,
): (y: Float64Array) => Float64Array {
  if (isOnGrid(t, targetHz, toleranceS(targetHz))) return (y) => y
  const grid = evenTimes(t[0], t[t.length - 1], targetHz)
  if (targetHz >= DOWNSAMPLING_RATIO * sourceHz) return (y) => pchip(t, y, grid)

  const isEven = isOnGrid(t, sourceHz, toleranceS(sourceHz))
  const sourceGrid = isEven ? t : evenTimes(t[0], t[t.length - 1], sourceHz)
  const lowPass = butterworthLowPass(ANTI_ALIAS_ORDER, ANTI_ALIAS_SHARE * targetHz, sourceHz)
  const times = evenTimesOf(sourceGrid.length, t[0], sourceHz)
  const every = sourceHz / targetHz
  const isWhole = Math.abs(every - Math.round(every)) < 1e-9
  const target = grid.subarray(0, countUpTo(grid, times[times.length - 1]))
  return (y) => {
    const filtered = sosfiltfilt(lowPass, isEven ? y : pchip(t, y, sourceGrid))
    if (!isWhole) return pchip(times, filtered, target)
    const stride = Math.round(every)
    return Float64Array.from({ length: Math.ceil(filtered.length / stride) }, (_, i) => filtered[i * stride])
  }
}

/** True when every stamp lies within the tolerance of t[0] + i / rate. */
function isOnGrid(t: Float64Array, rateHz: number, toleranceS: number): boolean {
  const limitS = toleranceS * (1 + 1e-9)
  for (let i = 1; i < t.length; i++) if (Math.abs(t[i] - t[0] - i / rateHz) > limitS) return false
  return true
}

/** from, from + 1/rate, … up to `to` (a last point beyond it by rounding alone is put on it). */
function evenTimes(fromS: number, toS: number, rateHz: number): Float64Array {
  const times = evenTimesOf(Math.floor((toS - fromS) * rateHz + 1e-6) + 1, fromS, rateHz)
  const last = times.length - 1
  times[last] = Math.min(times[last], toS)
  return times
}

function evenTimesOf(count: number, fromS: number, rateHz: number): Float64Array {
  return Float64Array.from({ length: count }, (_, i) => fromS + i / rateHz)
}

function countUpTo(ascending: Float64Array, limit: number): number {
  let count = ascending.length
  while (count > 0 && ascending[count - 1] > limit) count--
  return count
}
