import { normalQuantile } from './normal-quantile.ts'

/** A straight trend and how sure it is. */
export interface TheilSenFit {
  /** Median of the slopes between all pairs, unit of y per unit of x. */
  readonly slope: number
  /** median(y) − slope·median(x), unit of y. */
  readonly intercept: number
  /** Sen's interval of the slope, unit of y per unit of x. */
  readonly low: number
  readonly high: number
}

/**
 * Theil–Sen line through (x, y): the median of all pairwise slopes, which up to 29 % of outliers do
 * not break. Pairs with equal x are left out.
 *
 * The interval takes the slopes at the ranks (N ± z·σ)/2 with σ² of Kendall's S corrected for ties,
 * ranks rounded half to even and held within 1..N: as SciPy's `theilslopes(y, x, confidence)`. With
 * fewer than 5 points the ranks run out and it covers less than `confidence`.
 * Cost: O(n²) slopes, sorted.
 *
 * @param confidence 0.95 unless said, between 0.5 and 1
 * @throws {TypeError} if the lengths differ
 * @throws {RangeError} if there are fewer than 2 points or all x are equal
 * @see Sen 1968, J. Am. Stat. Assoc. 63:1379–1389, equation 2.6
 */
export function theilSen(x: ArrayLike<number>, y: ArrayLike<number>, confidence = 0.95): TheilSenFit {
  const n = x.length
  if (y.length !== n) throw new TypeError(`theilSen requires as many y as x, got ${y.length} and ${n}`)
  if (n < 2) throw new RangeError(`theilSen requires at least 2 points, got ${n}`)
  if (!(confidence > 0.5 && confidence < 1)) {
    throw new RangeError(`theilSen requires 0.5 < confidence < 1, got ${confidence}`)
  }
  const slopes = pairwiseSlopes(x, y)
  if (slopes.length === 0) throw new RangeError('theilSen requires two points with different x')
  const slope = sortedMedian(slopes)
  const reach = normalQuantile((1 + confidence) / 2) * Math.sqrt(kendallVariance(x, y))
  const lowRank = Math.max(roundHalfEven((slopes.length - reach) / 2) - 1, 0)
  const highRank = Math.min(roundHalfEven((slopes.length + reach) / 2), slopes.length - 1)
  return {
    slope,
    intercept: sortedMedian(sorted(y)) - slope * sortedMedian(sorted(x)),
    low: slopes[lowRank],
    high: slopes[highRank],
  }
}

/** Ascending. */
function pairwiseSlopes(x: ArrayLike<number>, y: ArrayLike<number>): Float64Array {
  const slopes = new Float64Array((x.length * (x.length - 1)) / 2)
  let count = 0
  for (let i = 0; i < x.length; i++) {
    for (let j = i + 1; j < x.length; j++) {
      if (x[j] !== x[i]) slopes[count++] = (y[j] - y[i]) / (x[j] - x[i])
    }
  }
  return slopes.subarray(0, count).sort()
}

/** Variance of Kendall's S, less what ties in x and in y take away. */
function kendallVariance(x: ArrayLike<number>, y: ArrayLike<number>): number {
  const term = (k: number) => k * (k - 1) * (2 * k + 5)
  let sum = term(x.length)
  for (const size of [...tieSizes(x), ...tieSizes(y)]) sum -= term(size)
  return Math.max(0, sum) / 18
}

function tieSizes(values: ArrayLike<number>): number[] {
  const counts = new Map<number, number>()
  for (let i = 0; i < values.length; i++) counts.set(values[i], (counts.get(values[i]) ?? 0) + 1)
  return [...counts.values()].filter((count) => count > 1)
}

function sorted(values: ArrayLike<number>): Float64Array {
  return Float64Array.from(values).sort()
}

function sortedMedian(ascending: Float64Array): number {
  const middle = ascending.length >> 1
  return ascending.length % 2 === 1 ? ascending[middle] : (ascending[middle - 1] + ascending[middle]) / 2
}

function roundHalfEven(value: number): number {
  const floor = Math.floor(value)
  if (value - floor !== 0.5) return Math.round(value)
  return floor % 2 === 0 ? floor : floor + 1
}
