/** d₂ for ranges of two values, 2/√π to the three digits of the printed tables. */
const D2 = 1.128

/** D₄ for ranges of two values. */
const D4 = 3.267

/** Centre and limits of single values and of their moving ranges, in the unit of the values. */
export interface IndividualsChart {
  readonly mean: number
  /** Estimate of the standard deviation from neighbours: mean moving range ÷ 1.128. */
  readonly sigma: number
  readonly low: number
  readonly high: number
  readonly meanMovingRange: number
  readonly movingRangeHigh: number
  /** Indices of values outside their limits. */
  readonly outside: readonly number[]
  /** Indices i whose range |x_i − x_{i−1}| lies above its limit. */
  readonly jumps: readonly number[]
}

/**
 * Individuals and moving-range chart (Shewhart): limits mean ± 3·MR̄/1.128 = mean ± 2.66·MR̄; ranges up to
 * 3.267·MR̄, where MR̄ is the mean of |x_i − x_{i−1}|.
 *
 * Taking the spread from neighbours keeps a slow trend out of it. The limits are trustworthy from a stable
 * baseline of about 8 values on (common practice, no source).
 *
 * @param values shape (n), n >= 2, in time order
 * @throws {RangeError} if there are fewer than 2 values or one is not finite
 * @see NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2
 */
export function individualsChart(values: ArrayLike<number>): IndividualsChart {
  const n = values.length
  if (n < 2) throw new RangeError(`individualsChart requires at least 2 values, got ${n}`)
  let sum = 0
  for (let i = 0; i < n; i++) {
    if (!Number.isFinite(values[i])) {
      throw new RangeError(`individualsChart requires finite values, got ${values[i]} at index ${i}`)
    }
    sum += values[i]
  }
  const ranges = Array.from({ length: n - 1 }, (_, i) => Math.abs(values[i + 1] - values[i]))
  const mean = sum / n
  const meanMovingRange = ranges.reduce((total, range) => total + range, 0) / (n - 1)
  const sigma = meanMovingRange / D2
  const low = mean - 3 * sigma
  const high = mean + 3 * sigma
  const movingRangeHigh = D4 * meanMovingRange
  const indices = Array.from({ length: n }, (_, i) => i)
  return {
    mean,
    sigma,
    low,
    high,
    meanMovingRange,
    movingRangeHigh,
    outside: indices.filter((i) => values[i] < low || values[i] > high),
    jumps: indices.slice(1).filter((i) => ranges[i - 1] > movingRangeHigh),
  }
}
