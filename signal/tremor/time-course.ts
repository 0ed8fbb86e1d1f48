import type { DogAxes } from '../sway/dog-axes.ts'
import { bandPower } from '../spectrum/band-power.ts'
import { sampleCount } from '../sway/dog-axes.ts'
import { eachWindow, windowCount } from './short-time.ts'

/** Band RMS over time. */
export interface BandTimeCourse {
  /** Middle of each window, s from the first sample, shape (m), ascending. */
  readonly tS: Float64Array
  /** Band RMS summed over the axes, m/s², shape (m). */
  readonly rms: Float64Array
}

export interface TimeCourseOptions {
  /** Length of a window, s; 2 as in `tremorBands`. */
  readonly windowS?: number
  /** From one window to the next, s; 0.5. */
  readonly hopS?: number
}

/**
 * Band RMS of every window of 2 s, one each 0.5 s: a short-time Fourier transform (Hann, window mean
 * removed), summed over the three axes, trapezoid over [fromHz, toHz]. Windows that do not fit whole
 * are left out, so a stretch shorter than one gives empty series.
 *
 * @throws {RangeError} if a window has fewer than 3 samples, the hop is below one sample, or the band
 * is not 0 <= fromHz < toHz <= rateHz / 2
 */
export function bandTimeCourse(
  stretch: DogAxes,
  rateHz: number,
  fromHz: number,
  toHz: number,
  { windowS = 2, hopS = 0.5 }: TimeCourseOptions = {},
): BandTimeCourse {
  const windows = { segmentSamples: Math.round(windowS * rateHz), hopSamples: Math.round(hopS * rateHz) }
  const { segmentSamples, hopSamples } = windows
  if (!(segmentSamples >= 3))
    throw new RangeError(`bandTimeCourse requires 3 samples a window, got ${segmentSamples}`)
  if (!(hopSamples >= 1))
    throw new RangeError(`bandTimeCourse requires a hop of at least one sample, got ${hopS} s`)
  const count = windowCount(sampleCount(stretch), windows)
  const tS = new Float64Array(count)
  const rms = new Float64Array(count)
  let w = 0
  eachWindow(stretch, rateHz, windows, (middleS, psd) => {
    tS[w] = middleS
    rms[w++] = Math.sqrt(bandPower(psd, fromHz, toHz))
  })
  return { tS, rms }
}
