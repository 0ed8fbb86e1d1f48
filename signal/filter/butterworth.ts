import type { Sos } from './sos.ts'

/**
 * Butterworth low-pass as second-order sections, gain 1 at 0 Hz and 1/√2 (−3.01 dB) at `cutoffHz`.
 *
 * Bilinear transform of the analogue prototype with the corner prewarped. Sections are ordered and
 * paired as SciPy does: lowest Q first, the whole gain in the first section.
 *
 * @param order number of poles, an integer >= 1
 * @param cutoffHz corner of one pass, with 0 < cutoffHz < rateHz / 2
 * @param rateHz samples per second
 * @throws {RangeError} if order is not a whole number >= 1 or the corner lies outside 0..Nyquist
 * @see Butterworth 1930, Experimental Wireless 7:536–541; coefficients as `scipy.signal.butter(..., output='sos')`
 */
export function butterworthLowPass(order: number, cutoffHz: number, rateHz: number): Sos {
  return design('butterworthLowPass', order, cutoffHz, rateHz, -1)
}

/** Butterworth high-pass, gain 1 at Nyquist and 1/√2 at `cutoffHz`; otherwise as `butterworthLowPass`. */
export function butterworthHighPass(order: number, cutoffHz: number, rateHz: number): Sos {
  return design('butterworthHighPass', order, cutoffHz, rateHz, 1)
}

/** `zero` is where all zeros of the filter lie on the z-plane: −1 for a low-pass, 1 for a high-pass. */
function design(caller: string, order: number, cutoffHz: number, rateHz: number, zero: -1 | 1): Sos {
  if (!(Number.isInteger(order) && order >= 1)) {
    throw new RangeError(`${caller} requires a whole order >= 1, got ${order}`)
  }
  if (!(Number.isFinite(rateHz) && rateHz > 0)) {
    throw new RangeError(`${caller} requires rateHz > 0, got ${rateHz}`)
  }
  if (!(cutoffHz > 0 && cutoffHz < rateHz / 2)) {
    throw new RangeError(
      `${caller} requires 0 < cutoffHz < ${rateHz / 2} (half of rateHz ${rateHz}), got ${cutoffHz}`,
    )
  }
  const corner = Math.tan((Math.PI * cutoffHz) / rateHz)
  const numeratorGain = zero === -1 ? corner : 1
  const sections: Float64Array[] = []
  let gain = 1

  // An odd order has one more pole and zero at the origin, so that every section holds two of each.
  // SciPy hands zeros out from the sharpest pole pair on, each pair taking the nearest left, so the
  // zero at the origin goes to the first pair nearer to it, else to the real pole.
  let originLeft = order % 2 === 1

  // From the sharpest pole pair (nearest to the unit circle) to the bluntest; reversed at the end.
  for (let pair = 0; pair < Math.floor(order / 2); pair++) {
    const angle = (Math.PI * (2 * pair + 1)) / (2 * order)
    const re = corner * Math.sin(angle)
    const norm = 1 + 2 * re + corner * corner
    const poleRe = (1 - corner * corner) / norm
    const poleSquare = (1 - 2 * re + corner * corner) / norm
    gain *= (numeratorGain * numeratorGain) / norm
    const zeroDistanceSquare = 1 - 2 * zero * poleRe + poleSquare
    const takesOrigin = originLeft && poleSquare < zeroDistanceSquare
    if (takesOrigin) originLeft = false
    sections.push(section(zero, takesOrigin ? 0 : zero, -2 * poleRe, poleSquare))
  }
  if (order % 2 === 1) {
    gain *= numeratorGain / (1 + corner)
    sections.push(section(zero, originLeft ? 0 : zero, (corner - 1) / (1 + corner), 0))
  }
  sections.reverse()
  for (let i = 0; i < 3; i++) sections[0][i] *= gain
  return sections
}

/** One section of gain 1 with two real zeros and the denominator 1 + a1·z⁻¹ + a2·z⁻². */
function section(zero1: number, zero2: number, a1: number, a2: number): Float64Array {
  return Float64Array.of(1, -(zero1 + zero2), zero1 * zero2, 1, a1, a2)
}
