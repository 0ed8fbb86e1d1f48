import type { Run } from './gaps.ts'
import type { Vector3Series } from './trace.ts'

/** A sensor on a living dog never holds three axes exactly still this long, s. */
const MIN_FLAT_S = 1

/**
 * Number of samples in stretches of at least 1 s in which no axis changes at all.
 * @param runs the gap-free runs of `t`
 */
export function flatSamples(
  t: Float64Array,
  { x, y, z }: Vector3Series,
  rateHz: number,
  runs: readonly Run[],
): number {
  let count = 0
  for (const run of runs) {
    let from = run.from
    for (let i = run.from + 1; i <= run.to; i++) {
      if (i < run.to && x[i] === x[from] && y[i] === y[from] && z[i] === z[from]) continue
      // A sample stands for the time up to the next one, so n samples last n periods.
      if (t[i - 1] - t[from] + 1 / rateHz >= MIN_FLAT_S * (1 - 1e-9)) count += i - from
      from = i
    }
  }
  return count
}
