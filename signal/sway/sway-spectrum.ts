import { MIN_SPECTRAL_HOLD_S, SWAY_SEGMENT_S } from '../constants.ts'
import type { SwaySpectralReport } from '../report-types.ts'
import { spectralMoments } from '../spectrum/moments.ts'
import type { SpectralMoments } from '../spectrum/moments.ts'
import { welch } from '../spectrum/welch.ts'
import type { DogAxes } from './dog-axes.ts'
import { sampleCount } from './dog-axes.ts'
import { deviationRms } from './sway.ts'

/**
 * Spectral sway measures per axis, 0.15–5 Hz, from the **unfiltered** samples of one interval:
 * Welch density with segments of 10 s (the whole interval when it is shorter), 50 % overlap.
 * All null, with the reason, for an interval under 2 s; null for an axis without motion.
 * An unresolved heading is the caller's to know: ML and CC then mean nothing here.
 *
 * @see Prieto et al. 1996, IEEE Trans. Biomed. Eng. 43:956–966
 */
export function swaySpectrum(interval: DogAxes, rateHz: number): SwaySpectralReport {
  const n = sampleCount(interval)
  if (n < MIN_SPECTRAL_HOLD_S * rateHz) {
    return report(null, null, `shorter than ${MIN_SPECTRAL_HOLD_S} s: no sway spectrum`)
  }
  const segmentSamples = Math.min(n, Math.round(SWAY_SEGMENT_S * rateHz))
  const ml = axisMoments(interval.ml, rateHz, segmentSamples)
  const cc = axisMoments(interval.cc, rateHz, segmentSamples)
  return report(ml, cc, ml && cc ? undefined : 'an axis without motion has no frequency')
}

function axisMoments(x: Float64Array, rateHz: number, segmentSamples: number): SpectralMoments | null {
  let largest = 0
  for (let i = 0; i < x.length; i++) largest = Math.max(largest, Math.abs(x[i]))
  // A constant leaves the rounding of its mean, which has a spectrum but no meaning.
  if (deviationRms(x) <= 1e-12 * largest) return null
  return spectralMoments(welch(x, rateHz, { segmentSamples }))
}

/** The report of an interval that has no sway spectrum. */
export function noSwaySpectrum(reason: string): SwaySpectralReport {
  return report(null, null, reason)
}

function report(ml: SpectralMoments | null, cc: SpectralMoments | null, reason?: string): SwaySpectralReport {
  const pair = (measure: keyof SpectralMoments) => ({ ml: ml?.[measure] ?? null, cc: cc?.[measure] ?? null })
  return {
    totalPower: pair('totalPower'),
    f50Hz: pair('f50Hz'),
    f95Hz: pair('f95Hz'),
    centroidHz: pair('centroidHz'),
    dispersion: pair('dispersion'),
    ...(reason === undefined ? {} : { reason }),
  }
}
