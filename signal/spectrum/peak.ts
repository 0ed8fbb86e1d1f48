import { distinctFactor } from './distinct-factor.ts'
import { robustLine } from './robust-line.ts'
import type { Psd } from './welch.ts'

/** Wider than this is a hump, not a rhythm, Hz. */
export const MAX_DISTINCT_WIDTH_HZ = 2

/** Bins this near the peak or its second harmonic stay out of the background, Hz. */
const PEAK_NEIGHBOURHOOD_HZ = 1

/** Range the background is fitted over, Hz; the upper end also stays below 0.9 of Nyquist. */
const BACKGROUND_HZ = { from: 1, to: 25, nyquistShare: 0.9 }

/** Fewer bins than this do not carry a background. */
const MIN_BACKGROUND_BINS = 6

/** The largest local maximum of a density inside a band. */
export interface SpectralPeak {
  /** Position refined by a parabola through the logarithms of three bins, Hz. */
  readonly peakHz: number
  /** Density of the highest bin, (unit of the signal)² per Hz. */
  readonly density: number
  /** Width at half of that density, linear between bins, Hz. */
  readonly halfPowerWidthHz: number
  /** Density of the fitted background at the peak; null when too few bins carry it. */
  readonly background: number | null
  /** Density over background, no unit. */
  readonly prominence: number | null
  /** What `prominence` has to reach. */
  readonly requiredProminence: number
  /** Stands out of the background by the required factor and is no wider than 2 Hz. */
  readonly distinct: boolean
}

/**
 * The largest local maximum of the density with fromHz <= f <= toHz, or null when the density only
 * rises or falls through the band. A bin is a local maximum when it exceeds its left and is not below
 * its right neighbour in the whole spectrum, so the slope of something outside the band is no peak.
 *
 * Background: a robust line through ln density over ln frequency from 1 Hz to the lesser of 25 Hz and
 * 0.9·Nyquist, without the bins within 1 Hz of the peak and of twice its frequency.
 *
 * @throws {RangeError} unless 0 <= fromHz < toHz <= rateHz / 2
 */
export function spectralPeak(psd: Psd, fromHz: number, toHz: number): SpectralPeak | null {
  if (!(fromHz >= 0 && fromHz < toHz && toHz <= psd.rateHz / 2)) {
    throw new RangeError(
      `spectralPeak requires 0 <= fromHz < toHz <= ${psd.rateHz / 2} (half of rateHz ${psd.rateHz}), ` +
        `got ${fromHz} and ${toHz}`,
    )
  }
  const { frequencyHz, density } = psd
  // A bin that lies on an edge counts, whatever the rounding of k·rate/n.
  const slackHz = 1e-9
  let peak = -1
  let bins = 0
  for (let k = 1; k < density.length - 1; k++) {
    if (frequencyHz[k] < fromHz - slackHz || frequencyHz[k] > toHz + slackHz) continue
    bins++
    const isMaximum = density[k] > density[k - 1] && density[k] >= density[k + 1]
    if (isMaximum && (peak < 0 || density[k] > density[peak])) peak = k
  }
  if (peak < 0) return null

  const peakHz = refinedHz(psd, peak)
  const halfPowerWidthHz = halfPowerWidth(psd, peak)
  const background = backgroundAt(psd, peakHz)
  const prominence = background === null ? null : density[peak] / background
  const requiredProminence = distinctFactor(psd.segments, bins)
  const distinct =
    prominence !== null && prominence >= requiredProminence && halfPowerWidthHz <= MAX_DISTINCT_WIDTH_HZ
  return {
    peakHz,
    density: density[peak],
    halfPowerWidthHz,
    background,
    prominence,
    requiredProminence,
    distinct,
  }
}

/** Top of the parabola through ln density at three bins; exact for a Gaussian line shape. */
function refinedHz({ frequencyHz, density }: Psd, peak: number): number {
  const below = density[peak - 1]
  const above = density[peak + 1]
  if (!(below > 0 && above > 0)) return frequencyHz[peak]
  const left = Math.log(below)
  const middle = Math.log(density[peak])
  const right = Math.log(above)
  const offset = (0.5 * (left - right)) / (left - 2 * middle + right)
  return frequencyHz[peak] + offset * frequencyHz[1]
}

/** Distance between the first crossings of half the peak density; the end of the spectrum when there is none. */
function halfPowerWidth({ frequencyHz, density }: Psd, peak: number): number {
  const half = density[peak] / 2
  const crossing = (step: -1 | 1): number => {
    let k = peak
    while (density[k] > half) {
      k += step
      if (k < 0 || k >= density.length) return frequencyHz[k - step]
    }
    const share = (half - density[k]) / (density[k - step] - density[k])
    return frequencyHz[k] + share * (frequencyHz[k - step] - frequencyHz[k])
  }
  return crossing(1) - crossing(-1)
}

function backgroundAt({ frequencyHz, density, rateHz }: Psd, peakHz: number): number | null {
  const toHz = Math.min(BACKGROUND_HZ.to, (BACKGROUND_HZ.nyquistShare * rateHz) / 2)
  const logHz: number[] = []
  const logDensity: number[] = []
  for (let k = 1; k < density.length; k++) {
    const f = frequencyHz[k]
    if (f < BACKGROUND_HZ.from || f > toHz || !(density[k] > 0)) continue
    if (Math.abs(f - peakHz) <= PEAK_NEIGHBOURHOOD_HZ || Math.abs(f - 2 * peakHz) <= PEAK_NEIGHBOURHOOD_HZ)
      continue
    logHz.push(Math.log(f))
    logDensity.push(Math.log(density[k]))
  }
  if (logHz.length < MIN_BACKGROUND_BINS) return null
  const line = robustLine(logHz, logDensity)
  return line && Math.exp(line.intercept + line.slope * Math.log(peakHz))
}
