import type { Psd } from './welch.ts'

/**
 * Power between two frequencies, in (unit of the signal)²; its root is the band RMS.
 *
 * Trapezoid of the density over [fromHz, toHz], the density at the edges interpolated linearly
 * between bins, so that neighbouring bands add up. Above the last bin (odd segments) the density
 * keeps its last value.
 *
 * @throws {RangeError} unless 0 <= fromHz < toHz <= rateHz / 2
 * @example bandPower(welch(sine of amplitude A at 6 Hz, …), 4, 8) // about A²/2
 */
export function bandPower(psd: Psd, fromHz: number, toHz: number): number {
  const { frequencyHz, density, rateHz } = psd
  if (!(fromHz >= 0 && fromHz < toHz)) {
    throw new RangeError(`bandPower requires 0 <= fromHz < toHz, got ${fromHz} and ${toHz}`)
  }
  if (toHz > rateHz / 2) {
    throw new RangeError(`bandPower requires toHz <= ${rateHz / 2} (half of rateHz ${rateHz}), got ${toHz}`)
  }
  let power = 0
  let previousHz = fromHz
  let previous = densityAt(psd, fromHz)
  for (let k = 0; k < density.length && frequencyHz[k] < toHz; k++) {
    if (frequencyHz[k] <= fromHz) continue
    power += 0.5 * (previous + density[k]) * (frequencyHz[k] - previousHz)
    previousHz = frequencyHz[k]
    previous = density[k]
  }
  return power + 0.5 * (previous + densityAt(psd, toHz)) * (toHz - previousHz)
}

/** Density at any frequency, linear between bins and constant beyond them. */
export function densityAt(psd: Psd, atHz: number): number {
  const { frequencyHz, density } = psd
  const last = density.length - 1
  if (atHz >= frequencyHz[last]) return density[last]
  const at = atHz / frequencyHz[1]
  const k = Math.floor(at)
  return density[k] + (at - k) * (density[k + 1] - density[k])
}
