/**
 * Values of a series at other times by piecewise cubic Hermite interpolation that never overshoots
 * the samples (PCHIP), in the unit of `y`, shape (m).
 *
 * Slopes as in Fritsch & Butland: inside, the weighted harmonic mean of the neighbouring secants,
 * or 0 where they differ in sign; at the ends the three-point formula, kept from overshooting. Two
 * samples give the straight line. Equal to SciPy's `PchipInterpolator` within rounding.
 *
 * @param t times of the samples, strictly ascending, shape (n), n >= 2
 * @param y values, shape (n)
 * @param at times wanted, ascending, each within [t[0], t[n − 1]], shape (m)
 * @throws {RangeError} when the shapes differ, n < 2, or a wanted time lies outside the samples
 * @see Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17:238–246; Fritsch & Butland 1984, SIAM J. Sci. Stat. Comput. 5:300–304 (from memory)
 */
export function pchip(t: Float64Array, y: Float64Array, at: Float64Array): Float64Array {
  const n = t.length
  if (y.length !== n) throw new RangeError(`pchip requires as many values as times (${n}), got ${y.length}`)
  if (n < 2) throw new RangeError(`pchip requires at least two samples, got ${n}`)
  if (at.length > 0 && !(at[0] >= t[0] && at[at.length - 1] <= t[n - 1])) {
    throw new RangeError(
      `pchip requires times from ${t[0]} to ${t[n - 1]}, got ${at[0]} to ${at[at.length - 1]}`,
    )
  }
  const slopes = pchipSlopes(t, y)
  const out = new Float64Array(at.length)
  let k = 0
  for (let i = 0; i < at.length; i++) {
    while (k < n - 2 && at[i] >= t[k + 1]) k++
    const h = t[k + 1] - t[k]
    const s = at[i] - t[k]
    const secant = (y[k + 1] - y[k]) / h
    const c2 = (3 * secant - 2 * slopes[k] - slopes[k + 1]) / h
    const c3 = (slopes[k] + slopes[k + 1] - 2 * secant) / (h * h)
    out[i] = y[k] + s * (slopes[k] + s * (c2 + s * c3))
  }
  return out
}

/** The slope at each sample, unit of y per s. */
function pchipSlopes(t: Float64Array, y: Float64Array): Float64Array {
  const n = t.length
  const slopes = new Float64Array(n)
  const step = (k: number) => t[k + 1] - t[k]
  const secant = (k: number) => (y[k + 1] - y[k]) / step(k)
  if (n === 2) return slopes.fill(secant(0))
  slopes[0] = endSlope(step(0), step(1), secant(0), secant(1))
  slopes[n - 1] = endSlope(step(n - 2), step(n - 3), secant(n - 2), secant(n - 3))
  let before = secant(0)
  for (let k = 1; k < n - 1; k++) {
    const after = secant(k)
    if (before * after > 0) {
      const w1 = 2 * step(k) + step(k - 1)
      const w2 = step(k) + 2 * step(k - 1)
      slopes[k] = (w1 + w2) / (w1 / before + w2 / after)
    }
    before = after
  }
  return slopes
}

/** One-sided three-point slope; 0 or three times the secant where it would overshoot. */
function endSlope(h0: number, h1: number, secant0: number, secant1: number): number {
  const slope = ((2 * h0 + h1) * secant0 - h0 * secant1) / (h0 + h1)
  if (Math.sign(slope) !== Math.sign(secant0)) return 0
  if (Math.sign(secant0) !== Math.sign(secant1) && Math.abs(slope) > 3 * Math.abs(secant0)) return 3 * secant0
  return slope
}
