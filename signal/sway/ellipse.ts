/** A 95 % prediction ellipse in the (ML, CC) plane. */
export interface PredictionEllipse {
  /** π·major·minor, in (unit of the samples)². */
  readonly area: number
  /** Semi-axes √(k·λ), in the unit of the samples. */
  readonly major: number
  readonly minor: number
  /** Direction of the major axis from the first axis towards the second, −90..90 degrees. */
  readonly angleDeg: number
  /** Samples behind it; the factor k depends on it. */
  readonly n: number
}

/**
 * 95 % **prediction** ellipse: the region that holds the next sample with probability 0.95 when the
 * two axes are jointly normal. Not the confidence ellipse of the mean, which shrinks with n.
 *
 * k = 2(n−1)(n+1)/(n(n−2)) · F₀.₉₅(2, n−2), semi-axes √(k·λ) with λ the eigenvalues of the covariance
 * (ddof 1), area = π·k·√det S, angle = ½·atan2(2s_xy, s_x² − s_y²).
 *
 * @param x first axis (ML), shape (n), n >= 3; the mean is removed here
 * @param y second axis (CC), shape (n)
 * @throws {RangeError} if n < 3
 * @throws {TypeError} if the shapes differ
 * @see Chew 1966, J. Am. Stat. Assoc. 61:605–617; Schubert & Kirchner 2014, Gait Posture 39:518–522;
 * Duarte 2015, Gait Posture 41:44–45
 */
export function predictionEllipse(x: Float64Array, y: Float64Array): PredictionEllipse {
  const n = x.length
  if (y.length !== n)
    throw new TypeError(`predictionEllipse requires two axes of one length, got ${n} and ${y.length}`)
  if (n < 3) throw new RangeError(`predictionEllipse requires at least 3 samples, got ${n}`)
  const { xx, xy, yy } = covariance(x, y)
  const centre = (xx + yy) / 2
  const spread = Math.hypot((xx - yy) / 2, xy)
  const large = centre + spread
  // From the determinant, as centre − spread loses its digits for a thin ellipse.
  const determinant = Math.max(0, xx * yy - xy * xy)
  const small = large > 0 ? determinant / large : 0
  const k = predictionFactor(n)
  return {
    area: Math.PI * k * Math.sqrt(determinant),
    major: Math.sqrt(k * large),
    minor: Math.sqrt(k * small),
    angleDeg: (0.5 * Math.atan2(2 * xy, xx - yy) * 180) / Math.PI,
    n,
  }
}

/** k of the 95 % prediction ellipse of n samples; tends to −2·ln 0.05 = 5.991. */
export function predictionFactor(n: number): number {
  return ((2 * (n - 1) * (n + 1)) / (n * (n - 2))) * fQuantile95(n - 2)
}

/** F₀.₉₅(2, ν): with two degrees of freedom in the numerator the F distribution inverts in closed form. */
export function fQuantile95(denominatorDof: number): number {
  // expm1 keeps the digits when ν is large and 0.05^(−2/ν) is close to 1.
  return (denominatorDof / 2) * Math.expm1((-2 / denominatorDof) * Math.log(0.05))
}

function covariance(x: Float64Array, y: Float64Array): { xx: number; xy: number; yy: number } {
  const n = x.length
  let sumX = 0
  let sumY = 0
  for (let i = 0; i < n; i++) {
    sumX += x[i]
    sumY += y[i]
  }
  const meanX = sumX / n
  const meanY = sumY / n
  let xx = 0
  let xy = 0
  let yy = 0
  for (let i = 0; i < n; i++) {
    const dx = x[i] - meanX
    const dy = y[i] - meanY
    xx += dx * dx
    xy += dx * dy
    yy += dy * dy
  }
  return { xx: xx / (n - 1), xy: xy / (n - 1), yy: yy / (n - 1) }
}
