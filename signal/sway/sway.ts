import type { DogAxes } from './dog-axes.ts'
import { sampleCount } from './dog-axes.ts'
import { predictionEllipse } from './ellipse.ts'
import type { PredictionEllipse } from './ellipse.ts'
import { swayJerk } from './jerk.ts'

/** Sway of one interval in the time domain. */
export interface SwayMeasures {
  /** Root mean square about the interval's own mean (ddof 0), m/s²; horizontal = √(ML² + CC²). */
  readonly rms: { readonly ml: number; readonly cc: number; readonly dv: number; readonly horizontal: number }
  /** Largest minus smallest sample, m/s². */
  readonly range: { readonly ml: number; readonly cc: number }
  /** Σ√(ΔML² + ΔCC²), m/s². */
  readonly path: number
  /** Path per second of interval, n / rateHz, m/s³. */
  readonly pathRate: number
  /** ½·∫((dML/dt)² + (dCC/dt)²)dt, m²/s⁵. */
  readonly jerk: number
  /** 95 % prediction ellipse of (ML, CC), area m²/s⁴, semi-axes m/s². */
  readonly ellipse: PredictionEllipse
}

/**
 * Sway measures of the samples of one interval [from, to), cut out of a stretch that went through
 * `lowPassStretch`. The interval's own mean is removed first. Duration counts every sample's period,
 * n / rateHz, so that neighbouring intervals add up.
 *
 * RMS horizontal, path, jerk and the ellipse (but its angle) do not depend on the heading.
 *
 * @throws {RangeError} if the interval has fewer than 3 samples
 * @see Mancini et al. 2012, J. NeuroEng. Rehabil. 9:59; Prieto et al. 1996, IEEE Trans. Biomed. Eng. 43:956–966
 */
export function swayMeasures(interval: DogAxes, rateHz: number): SwayMeasures {
  const n = sampleCount(interval)
  if (n < 3) throw new RangeError(`swayMeasures requires at least 3 samples, got ${n}`)
  const { ml, cc, dv } = interval
  const rmsMl = deviationRms(ml)
  const rmsCc = deviationRms(cc)
  const path = planarPath(ml, cc)
  return {
    rms: { ml: rmsMl, cc: rmsCc, dv: deviationRms(dv), horizontal: Math.sqrt(rmsMl * rmsMl + rmsCc * rmsCc) },
    range: { ml: range(ml), cc: range(cc) },
    path,
    pathRate: (path * rateHz) / n,
    jerk: swayJerk(ml, cc, rateHz),
    ellipse: predictionEllipse(ml, cc),
  }
}

/** Root mean square about the mean (ddof 0), in the unit of x. */
export function deviationRms(x: Float64Array): number {
  let sum = 0
  for (let i = 0; i < x.length; i++) sum += x[i]
  const mean = sum / x.length
  let squares = 0
  for (let i = 0; i < x.length; i++) {
    const deviation = x[i] - mean
    squares += deviation * deviation
  }
  return Math.sqrt(squares / x.length)
}

/** Root mean square of both axes about their means, √(RMS_ML² + RMS_CC²), in their unit. */
export function horizontalRms(ml: Float64Array, cc: Float64Array): number {
  const rmsMl = deviationRms(ml)
  const rmsCc = deviationRms(cc)
  return Math.sqrt(rmsMl * rmsMl + rmsCc * rmsCc)
}

/** Length of the curve through the samples (x, y), in their unit. */
export function planarPath(x: Float64Array, y: Float64Array): number {
  let path = 0
  for (let i = 1; i < x.length; i++) {
    const dx = x[i] - x[i - 1]
    const dy = y[i] - y[i - 1]
    path += Math.sqrt(dx * dx + dy * dy)
  }
  return path
}

function range(x: Float64Array): number {
  let low = x[0]
  let high = x[0]
  for (let i = 1; i < x.length; i++) {
    if (x[i] < low) low = x[i]
    if (x[i] > high) high = x[i]
  }
  return high - low
}
