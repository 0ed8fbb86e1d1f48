import { sumPsd, welch } from '../spectrum/welch.ts'
import type { Psd } from '../spectrum/welch.ts'
import type { DogAxes } from '../sway/dog-axes.ts'
import { sampleCount } from '../sway/dog-axes.ts'

/** Samples a window takes and moves on by. */
export interface Windows {
  readonly segmentSamples: number
  readonly hopSamples: number
}

/** How many whole windows fit into n samples. */
export function windowCount(n: number, { segmentSamples, hopSamples }: Windows): number {
  return n < segmentSamples ? 0 : Math.floor((n - segmentSamples) / hopSamples) + 1
}

/**
 * Short-time Fourier transform: the density of every whole window (Hann, its own mean removed), summed over
 * the three axes, m²/s⁴/Hz. `visit` takes the middle of the window, s from the first sample.
 *
 * With windows that overlap by half, the mean over all of them is the density of `welch`.
 *
 * @throws {RangeError} if a window has fewer than 3 samples or the hop is below one sample
 * @see Allen & Rabiner 1977, Proc. IEEE 65:1558–1564 (from memory)
 */
export function eachWindow(
  stretch: DogAxes,
  rateHz: number,
  windows: Windows,
  visit: (middleS: number, psd: Psd) => void,
): void {
  const { segmentSamples, hopSamples } = windows
  if (!(segmentSamples >= 3))
    throw new RangeError(`eachWindow requires 3 samples a window, got ${segmentSamples}`)
  if (!(hopSamples >= 1))
    throw new RangeError(`eachWindow requires a hop of at least one sample, got ${hopSamples}`)
  const count = windowCount(sampleCount(stretch), windows)
  for (let w = 0; w < count; w++) {
    const start = w * hopSamples
    const psds = [stretch.ml, stretch.cc, stretch.dv].map((axis) =>
      welch(axis.subarray(start, start + segmentSamples), rateHz, { segmentSamples }),
    )
    visit((start + segmentSamples / 2) / rateHz, sumPsd(psds))
  }
}
