import { fQuantile } from './f-quantile.ts'
import { twoWayMeanSquares } from './mean-squares.ts'
import type { MeanSquares } from './mean-squares.ts'

/** An intraclass correlation and its interval. */
export interface Icc {
  readonly value: number
  readonly low: number
  readonly high: number
}

/**
 * Six intraclass correlations of one table. The first index is the model: 1 every subject has its own
 * trials (one-way), 2 trials drawn at random (agreement), 3 these trials and no others (consistency). The
 * second is what is reported: one trial, or the mean of all k.
 */
export interface Iccs {
  readonly meanSquares: MeanSquares
  readonly icc11: Icc
  readonly icc21: Icc
  readonly icc31: Icc
  readonly icc1k: Icc
  readonly icc2k: Icc
  readonly icc3k: Icc
}

/**
 * Intraclass correlations (dimensionless, at most 1, below 0 when subjects differ less than trials) with
 * intervals after Shrout & Fleiss; that of ICC(2,k) is the interval of ICC(2,1) stepped up by the
 * Spearman–Brown formula. The interval of ICC(2,1) is Satterthwaite's approximation; where the ICC comes out
 * negative it may miss its own estimate.
 *
 * @param table shape (n, k): one row per subject, one column per trial, n >= 2, k >= 2
 * @param confidence 0.95 unless said, between 0 and 1
 * @throws {TypeError} if the rows differ in length
 * @throws {RangeError} if the table is smaller than 2 × 2, holds a value that is not finite, or does not
 * vary both between subjects and within them; or if confidence is not in 0..1
 * @see Shrout & Fleiss 1979, Psychol. Bull. 86:420–428; McGraw & Wong 1996, Psychol. Methods 1:30–46 (names)
 */
export function intraclassCorrelations(table: readonly (readonly number[])[], confidence = 0.95): Iccs {
  if (!(confidence > 0 && confidence < 1)) {
    throw new RangeError(`intraclassCorrelations requires 0 < confidence < 1, got ${confidence}`)
  }
  const meanSquares = twoWayMeanSquares(table)
  const { subjects: n, trials: k, between, within, betweenTrials, residual } = meanSquares
  if (!(between > 0 && residual > 0)) {
    throw new RangeError(
      'intraclassCorrelations requires values that vary between subjects and within them, got mean squares ' +
        `${between} and ${residual}`,
    )
  }
  const p = (1 + confidence) / 2
  const oneWay = ratioLimits(between / within, n - 1, n * (k - 1), p)
  const twoWay = ratioLimits(between / residual, n - 1, (n - 1) * (k - 1), p)
  const agreement = agreementIcc(meanSquares, p)
  const stepUp = (icc: number) => (k * icc) / (1 + (k - 1) * icc)
  return {
    meanSquares,
    icc11: {
      value: (between - within) / (between + (k - 1) * within),
      low: (oneWay.low - 1) / (oneWay.low + k - 1),
      high: (oneWay.high - 1) / (oneWay.high + k - 1),
    },
    icc21: agreement,
    icc31: {
      value: (between - residual) / (between + (k - 1) * residual),
      low: (twoWay.low - 1) / (twoWay.low + k - 1),
      high: (twoWay.high - 1) / (twoWay.high + k - 1),
    },
    icc1k: { value: 1 - within / between, low: 1 - 1 / oneWay.low, high: 1 - 1 / oneWay.high },
    icc2k: {
      value: (between - residual) / (between + (betweenTrials - residual) / n),
      low: stepUp(agreement.low),
      high: stepUp(agreement.high),
    },
    icc3k: { value: 1 - residual / between, low: 1 - 1 / twoWay.low, high: 1 - 1 / twoWay.high },
  }
}

/** Interval of a ratio of two expected mean squares around the one observed. */
function ratioLimits(ratio: number, d1: number, d2: number, p: number): { low: number; high: number } {
  return { low: ratio / fQuantile(p, d1, d2), high: ratio * fQuantile(p, d2, d1) }
}

/** ICC(2,1), whose interval needs Satterthwaite's degrees of freedom v. */
function agreementIcc(meanSquares: MeanSquares, p: number): Icc {
  const { subjects: n, trials: k, between, betweenTrials, residual } = meanSquares
  const value = (between - residual) / (between + (k - 1) * residual + (k * (betweenTrials - residual)) / n)
  const trialsRatio = betweenTrials / residual
  const rest = n * (1 + (k - 1) * value) - k * value
  const v =
    ((k - 1) * (n - 1) * (k * value * trialsRatio + rest) ** 2) /
    ((n - 1) * (k * value * trialsRatio) ** 2 + rest ** 2)
  const spread = k * betweenTrials + (k * n - k - n) * residual
  const fLow = fQuantile(p, n - 1, v)
  const fHigh = fQuantile(p, v, n - 1)
  return {
    value,
    low: (n * (between - fLow * residual)) / (fLow * spread + n * between),
    high: (n * (fHigh * between - residual)) / (spread + n * fHigh * between),
  }
}
