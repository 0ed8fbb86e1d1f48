import type { DogAxes } from '../sway/dog-axes.ts'
import { sampleCount } from '../sway/dog-axes.ts'
import { eachWindow, windowCount } from '../tremor/short-time.ts'

/** Power by time and frequency, to be drawn: three axes together. */
export interface TimeFrequency {
  /** Middle of the first window, s from the first sample. */
  readonly fromS: number
  /** From one window to the next, s. */
  readonly stepS: number
  readonly windowS: number
  /** Bins above 0 Hz, shape (bins). */
  readonly frequencyHz: number[]
  /** One row a window: log10 of the density in (m/s²)²/Hz, shape (windows, bins), to two decimals. */
  readonly levels: number[][]
}

/** As the time course of tremor: 2 s tell 0.5 Hz apart. */
const WINDOW_S = 2
const HOP_S = 0.5
const TO_HZ = 20
/** A picture has no room for more columns; a long hold is shown in longer steps. */
const MOST_WINDOWS = 240
/** Nothing measured on a dog is as small, (m/s²)²/Hz: stands for 0, which has no logarithm. */
const LEAST_DENSITY = 1e-12

/**
 * The time–frequency picture of a gap-free interval: windows of 2 s (Hann, their own mean removed), one each
 * 0.5 s, up to 20 Hz; null when not even one window fits.
 */
export function timeFrequencyOf(interval: DogAxes, rateHz: number): TimeFrequency | null {
  const segmentSamples = Math.round(WINDOW_S * rateHz)
  const samples = sampleCount(interval)
  const hop = Math.max(1, Math.round(HOP_S * rateHz))
  const sparse = Math.ceil(windowCount(samples, { segmentSamples, hopSamples: hop }) / MOST_WINDOWS)
  const windows = { segmentSamples, hopSamples: hop * Math.max(1, sparse) }
  if (windowCount(samples, windows) === 0) return null
  let frequencyHz: number[] = []
  const levels: number[][] = []
  eachWindow(interval, rateHz, windows, (_, psd) => {
    const beyond = psd.frequencyHz.findIndex((hz) => hz > TO_HZ)
    const bins = beyond < 0 ? psd.frequencyHz.length : beyond
    frequencyHz = Array.from(psd.frequencyHz.subarray(1, bins))
    levels.push(Array.from(psd.density.subarray(1, bins), levelOf))
  })
  return {
    fromS: segmentSamples / 2 / rateHz,
    stepS: windows.hopSamples / rateHz,
    windowS: segmentSamples / rateHz,
    frequencyHz,
    levels,
  }
}

function levelOf(density: number): number {
  return Math.round(100 * Math.log10(Math.max(density, LEAST_DENSITY))) / 100
}
