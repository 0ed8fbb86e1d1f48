/** A step between samples is a gap when it is longer than this many nominal periods … */
export const GAP_PERIODS = 2.5
/** … and longer than this, s: below it interpolation is safe for sway and tremor alike. */
export const GAP_MIN_S = 0.05

/** Half-open runs of samples [from, to) between which samples are missing. */
export interface Run {
  readonly from: number
  readonly to: number
}

/** The longest step that still counts as no gap, s: max(2.5 nominal periods, 50 ms). */
export function longestStepS(rateHz: number): number {
  return Math.max(GAP_PERIODS / rateHz, GAP_MIN_S)
}

/**
 * The gap-free runs of a time axis, in order; together they hold every sample.
 *
 * @param t seconds, strictly ascending, shape (n)
 * @param rateHz nominal samples per second
 * @throws {RangeError} when rateHz is not positive
 */
export function gapFreeRuns(t: Float64Array, rateHz: number): Run[] {
  if (!(rateHz > 0)) throw new RangeError(`gapFreeRuns requires rateHz > 0, got ${rateHz}`)
  const limitS = longestStepS(rateHz) * (1 + 1e-9) // a step of exactly the limit is none, whatever its rounding
  const runs: Run[] = []
  let from = 0
  for (let i = 1; i <= t.length; i++) {
    if (i < t.length && t[i] - t[i - 1] <= limitS) continue
    runs.push({ from, to: i })
    from = i
  }
  return t.length === 0 ? [] : runs
}

/** The gaps of a time axis: from the last sample before to the first after, seconds. */
export function findGaps(t: Float64Array, rateHz: number): { fromS: number; toS: number }[] {
  return gapsBetween(t, gapFreeRuns(t, rateHz))
}

/** The same from runs already found. */
export function gapsBetween(t: Float64Array, runs: readonly Run[]): { fromS: number; toS: number }[] {
  return runs.slice(1).map(({ from }) => ({ fromS: t[from - 1], toS: t[from] }))
}
