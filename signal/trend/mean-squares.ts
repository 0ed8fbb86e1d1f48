/** Mean squares of a table of subjects (rows) by trials (columns), in the square of its unit. */
export interface MeanSquares {
  readonly subjects: number
  readonly trials: number
  /** Between subjects, n − 1 degrees of freedom. */
  readonly between: number
  /** Within subjects (one-way), n(k − 1). */
  readonly within: number
  /** Between trials, k − 1. */
  readonly betweenTrials: number
  /** What neither subject nor trial explains, (n − 1)(k − 1). */
  readonly residual: number
}

/**
 * Two-way analysis of variance without replication: `between`, `within`, `betweenTrials` and `residual`
 * are the BMS, WMS, JMS and EMS of Shrout & Fleiss (MSB, MSW, MSC, MSE elsewhere).
 *
 * @param table shape (n, k): one row per subject, one column per trial, n >= 2, k >= 2
 * @throws {TypeError} if the rows differ in length
 * @throws {RangeError} if there are fewer than 2 rows or columns or a value is not finite
 * @see Shrout & Fleiss 1979, Psychol. Bull. 86:420–428
 */
export function twoWayMeanSquares(table: readonly (readonly number[])[]): MeanSquares {
  const n = table.length
  const k = table[0]?.length ?? 0
  if (n < 2 || k < 2)
    throw new RangeError(`twoWayMeanSquares requires at least 2 × 2 values, got ${n} × ${k}`)
  table.forEach((row, i) => {
    if (row.length !== k) {
      throw new TypeError(`twoWayMeanSquares requires rows of ${k} values, got ${row.length} in row ${i}`)
    }
    for (const value of row) {
      if (!Number.isFinite(value)) {
        throw new RangeError(`twoWayMeanSquares requires finite values, got ${value} in row ${i}`)
      }
    }
  })
  const rowMeans = table.map(mean)
  const columnMeans = table[0].map((_, j) => mean(table.map((row) => row[j])))
  const grandMean = mean(rowMeans)
  let within = 0
  let residual = 0
  table.forEach((row, i) =>
    row.forEach((value, j) => {
      within += (value - rowMeans[i]) ** 2
      residual += (value - rowMeans[i] - columnMeans[j] + grandMean) ** 2
    }),
  )
  return {
    subjects: n,
    trials: k,
    between: (k * squares(rowMeans, grandMean)) / (n - 1),
    within: within / (n * (k - 1)),
    betweenTrials: (n * squares(columnMeans, grandMean)) / (k - 1),
    residual: residual / ((n - 1) * (k - 1)),
  }
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}

function squares(values: readonly number[], centre: number): number {
  return values.reduce((sum, value) => sum + (value - centre) ** 2, 0)
}
