import { selectInPlace } from '../trace/select.ts'

/** y = intercept + slope·x. */
export interface Line {
  readonly intercept: number
  readonly slope: number
}

const ITERATIONS = 10
/** Tukey's constant: 95 % efficiency when the errors are normal (Huber 1981, from memory). */
const BISQUARE = 4.685
/** Median absolute deviation to standard deviation, for normal errors. */
const MAD_TO_SD = 1.4826

/**
 * A straight line through (x, y) that outliers do not pull: least squares, reweighted ten times with
 * Tukey's bisquare on the residuals. Null when fewer than 3 points are given.
 * @see Beaton & Tukey 1974, Technometrics 16:147–185 (from memory)
 */
export function robustLine(x: ArrayLike<number>, y: ArrayLike<number>): Line | null {
  if (y.length !== x.length) {
    throw new TypeError(`robustLine requires as many y as x, got ${y.length} and ${x.length}`)
  }
  const n = x.length
  if (n < 3) return null
  const at = Float64Array.from(x)
  const value = Float64Array.from(y)
  const weights = new Float64Array(n).fill(1)
  const residuals = new Float64Array(n)
  const shuffled = new Float64Array(n)
  let line = weightedLine(at, value, weights)
  for (let i = 0; i < ITERATIONS && line; i++) {
    const { intercept, slope } = line
    for (let k = 0; k < n; k++) residuals[k] = Math.abs(value[k] - intercept - slope * at[k])
    shuffled.set(residuals)
    const scale = MAD_TO_SD * selectInPlace(shuffled, n >> 1)
    if (!(scale > 0)) break
    for (let k = 0; k < n; k++) {
      const u = residuals[k] / (BISQUARE * scale)
      weights[k] = u < 1 ? (1 - u * u) ** 2 : 0
    }
    line = weightedLine(at, value, weights)
  }
  return line
}

function weightedLine(x: Float64Array, y: Float64Array, weights: Float64Array): Line | null {
  let sum = 0
  let sumX = 0
  let sumY = 0
  for (let k = 0; k < x.length; k++) {
    sum += weights[k]
    sumX += weights[k] * x[k]
    sumY += weights[k] * y[k]
  }
  const meanX = sumX / sum
  const meanY = sumY / sum
  let xx = 0
  let xy = 0
  for (let k = 0; k < x.length; k++) {
    const dx = x[k] - meanX
    xx += weights[k] * dx * dx
    xy += weights[k] * dx * (y[k] - meanY)
  }
  if (!(xx > 0)) return null
  const slope = xy / xx
  return { intercept: meanY - slope * meanX, slope }
}
