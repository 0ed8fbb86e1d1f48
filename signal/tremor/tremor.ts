import { MIN_RATE_PER_BAND_EDGE } from '../constants.ts'
import type { Band } from '../constants.ts'
import type { DogAxes } from '../sway/dog-axes.ts'
import type { BandReport } from '../report-types.ts'
import { bandPower } from '../spectrum/band-power.ts'
import { spectralPeak } from '../spectrum/peak.ts'
import type { SpectralPeak } from '../spectrum/peak.ts'
import { sampleCount } from '../sway/dog-axes.ts'
import { isImpulsive } from './impulsive.ts'
import { lookAlikeOf } from './look-alike.ts'
import type { LookAlike } from './look-alike.ts'
import { tremorSpectra } from './tremor-spectra.ts'
import type { TremorSpectra } from './tremor-spectra.ts'

export type { LookAlike } from './look-alike.ts'

/** Intervals shorter than this have too coarse a spectrum for a peak, s. */
export const MIN_PEAK_INTERVAL_S = 2

/** Band RMS under this is rounding, far below what any sensor resolves, m/s². */
const MIN_MOTION_MS2 = 1e-9

/** Fewer samples than this carry no spectrum at all. */
const MIN_SAMPLES = 8

export interface TremorOptions {
  /** Whether CC and ML are known, or only "horizontal". */
  readonly headingResolved: boolean
}

/**
 * Power of each band over one interval, and its peak.
 *
 * Spectra of the three axes are summed, so nothing depends on how the sensor is turned; |a| is never
 * used, as it doubles the frequency of motion across gravity. `power` is the trapezoid of the density
 * over [fromHz, toHz] in m²/s⁴, `rms` its root in m/s². `peakHz` and `peakWidthHz` describe the largest
 * local maximum of the band; `distinct` says whether it stands out of the background. A band the sensor
 * could not carry is null with a reason. Look-alikes are flagged, not removed.
 *
 * @param interval **unfiltered** samples [from, to) in dog axes, evenly spaced
 * @param rateHz rate of these samples
 * @param sourceRateHz rate of the sensor before resampling; it decides which bands are measurable
 * @throws {RangeError} if the interval is empty, a rate is not > 0, or a band is not 0 <= fromHz < toHz
 * @see methods: Welch 1967, IEEE Trans. Audio Electroacoust. 15:70–73
 */
export function tremorBands(
  interval: DogAxes,
  rateHz: number,
  bands: readonly Band[],
  sourceRateHz: number,
  options: TremorOptions,
): BandReport[] {
  const n = requireMeasurable('tremorBands', interval, rateHz, bands, sourceRateHz)
  if (n < MIN_SAMPLES) return bands.map((band) => unmeasured(band, tooFew(n)))
  const spectra = tremorSpectra(interval, rateHz)
  const impulsive = isImpulsive(interval, rateHz)
  return bands.map((band) => {
    const reason = rateReason(band, rateHz, sourceRateHz)
    if (reason !== null) return unmeasured(band, reason)
    return measured(band, spectra, n / rateHz, impulsive, options)
  })
}

/** `power` and `rms` of one band as `tremorBands` gives them, without looking for a peak. */
export function tremorBandPower(
  interval: DogAxes,
  rateHz: number,
  band: Band,
  sourceRateHz: number,
): Pick<BandReport, 'power' | 'rms' | 'reason'> {
  const n = requireMeasurable('tremorBandPower', interval, rateHz, [band], sourceRateHz)
  const reason = n < MIN_SAMPLES ? tooFew(n) : rateReason(band, rateHz, sourceRateHz)
  if (reason !== null) return { power: null, rms: null, reason }
  const power = bandPower(tremorSpectra(interval, rateHz).sum, band.fromHz, band.toHz)
  return { power, rms: Math.sqrt(power) }
}

/** The number of samples. */
function requireMeasurable(
  caller: string,
  interval: DogAxes,
  rateHz: number,
  bands: readonly Band[],
  sourceRateHz: number,
): number {
  const n = sampleCount(interval)
  if (n === 0) throw new RangeError(`${caller} requires at least one sample`)
  if (!(rateHz > 0 && sourceRateHz > 0)) {
    throw new RangeError(`${caller} requires rateHz and sourceRateHz > 0, got ${rateHz} and ${sourceRateHz}`)
  }
  for (const { name, fromHz, toHz } of bands) {
    if (!(fromHz >= 0 && fromHz < toHz)) {
      throw new RangeError(
        `${caller} requires 0 <= fromHz < toHz, got ${fromHz} and ${toHz} for band ${name}`,
      )
    }
  }
  return n
}

function tooFew(samples: number): string {
  return `only ${samples} samples, a spectrum needs ${MIN_SAMPLES}`
}

function measured(
  band: Band,
  spectra: TremorSpectra,
  durationS: number,
  impulsive: boolean,
  options: TremorOptions,
): BandReport {
  const power = bandPower(spectra.sum, band.fromHz, band.toHz)
  const rms = Math.sqrt(power)
  const handling: LookAlike | null = impulsive ? 'handling' : null
  const base = { name: band.name, fromHz: band.fromHz, toHz: band.toHz, power, rms }
  if (durationS < MIN_PEAK_INTERVAL_S) {
    const reason = `shorter than ${MIN_PEAK_INTERVAL_S} s: too coarse a spectrum for a peak`
    return { ...base, peakHz: null, peakWidthHz: null, distinct: false, lookalike: handling, reason }
  }
  if (rms < MIN_MOTION_MS2) {
    const reason = 'no motion in the band'
    return { ...base, peakHz: null, peakWidthHz: null, distinct: false, lookalike: null, reason }
  }
  const peak = spectralPeak(spectra.sum, band.fromHz, band.toHz)
  if (peak === null) {
    const reason = 'no peak: the density only rises or falls through the band'
    return { ...base, peakHz: null, peakWidthHz: null, distinct: false, lookalike: handling, reason }
  }
  const { peakHz, halfPowerWidthHz: peakWidthHz, distinct } = peak
  const lookalike = (distinct ? lookAlikeOf(peakHz, spectra, options.headingResolved) : null) ?? handling
  const report = { ...base, peakHz, peakWidthHz, distinct, lookalike }
  return distinct ? report : { ...report, reason: indistinctReason(peak) }
}

function indistinctReason(peak: SpectralPeak): string {
  const { prominence, requiredProminence, halfPowerWidthHz } = peak
  if (prominence === null) return 'no distinct peak: too few bins to tell a background'
  if (prominence < requiredProminence) {
    return `no distinct peak: ${prominence.toFixed(1)} times its background, ${requiredProminence.toFixed(1)} needed`
  }
  return `no distinct peak: ${halfPowerWidthHz.toFixed(1)} Hz wide`
}

function rateReason(band: Band, rateHz: number, sourceRateHz: number): string | null {
  const neededHz = MIN_RATE_PER_BAND_EDGE * band.toHz
  if (sourceRateHz < neededHz) {
    return `sensor rate ${format(sourceRateHz)} Hz is below the ${format(neededHz)} Hz that ${format(band.toHz)} Hz needs`
  }
  if (band.toHz > rateHz / 2) {
    return `${format(band.toHz)} Hz lies above half of the analysis rate ${format(rateHz)} Hz`
  }
  return null
}

function unmeasured(band: Band, reason: string): BandReport {
  return {
    name: band.name,
    fromHz: band.fromHz,
    toHz: band.toHz,
    power: null,
    rms: null,
    peakHz: null,
    peakWidthHz: null,
    distinct: false,
    lookalike: null,
    reason,
  }
}

function format(value: number): string {
  return String(Math.round(value * 100) / 100)
}
