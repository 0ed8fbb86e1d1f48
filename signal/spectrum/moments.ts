import { SWAY_SPECTRUM_HZ } from '../constants.ts'
import type { Psd } from './welch.ts'

/** Where the power of one axis lies between 0.15 and 5 Hz. */
export interface SpectralMoments {
  /** m₀ = Σ P·Δf, in (unit of the signal)². */
  readonly totalPower: number
  /** First bin at which the running sum of power reaches half of m₀, Hz. */
  readonly f50Hz: number
  /** The same for 95 %. */
  readonly f95Hz: number
  /** √(m₂/m₀), Hz. */
  readonly centroidHz: number
  /** √(1 − m₁²/(m₀·m₂)): 0 for a pure sine, towards 1 for a wide band; no unit. */
  readonly dispersion: number
}

/**
 * Spectral sway measures from plain sums over the bins with 0.15 <= f <= 5 Hz, mₖ = Σ fᵏ·P·Δf; null
 * when the band holds no bin or no power, since a motionless axis has no frequency.
 *
 * @see Prieto et al. 1996, IEEE Trans. Biomed. Eng. 43:956–966; Quijoux et al. 2021, Physiol. Rep. 9:e15067 (published code)
 */
export function spectralMoments(
  psd: Psd,
  bandHz: readonly [number, number] = SWAY_SPECTRUM_HZ,
): SpectralMoments | null {
  const { frequencyHz, density } = psd
  const binHz = frequencyHz[1]
  // A bin that lies on an edge counts, whatever the rounding of k·rate/n.
  const slackHz = 1e-9
  const first = frequencyHz.findIndex((f) => f >= bandHz[0] - slackHz)
  const last = frequencyHz.findLastIndex((f) => f <= bandHz[1] + slackHz)
  let m0 = 0
  let m1 = 0
  let m2 = 0
  for (let k = Math.max(first, 0); first >= 0 && k <= last; k++) {
    const f = frequencyHz[k]
    m0 += density[k]
    m1 += f * density[k]
    m2 += f * f * density[k]
  }
  if (!(m0 > 0)) return null
  const quantileHz = (share: number): number => {
    // A running sum that reaches the share up to rounding has reached it.
    const goal = share * m0 * (1 - 1e-12)
    let sum = 0
    for (let k = first; k < last; k++) {
      sum += density[k]
      if (sum >= goal) return frequencyHz[k]
    }
    return frequencyHz[last]
  }
  return {
    totalPower: m0 * binHz,
    f50Hz: quantileHz(0.5),
    f95Hz: quantileHz(0.95),
    centroidHz: Math.sqrt(m2 / m0),
    dispersion: Math.sqrt(Math.max(0, 1 - (m1 * m1) / (m0 * m2))),
  }
}
