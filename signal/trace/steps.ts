import type { Run } from './gaps.ts'

export interface StepStatistics {
  /** Samples per second inside gap-free runs, Hz. */
  readonly effectiveRateHz: number
  /** Standard deviation (ddof 0) of the steps inside gap-free runs, s. */
  readonly jitterSdS: number
  /** Largest distance of such a step from their mean, s. */
  readonly jitterMaxS: number
  /** Samples present ÷ samples expected over the duration at the effective rate, 0..1. */
  readonly coverage: number
}

/**
 * How regularly the samples came; steps over gaps are left out of rate and jitter.
 *
 * @param t seconds, strictly ascending, shape (n)
 * @param rateHz nominal samples per second: the effective rate when no two samples are without a gap between
 * @param runs the gap-free runs of `t`
 */
export function stepStatistics(t: Float64Array, rateHz: number, runs: readonly Run[]): StepStatistics {
  let count = 0
  let sum = 0
  for (const { from, to } of runs) {
    count += to - from - 1
    sum += t[to - 1] - t[from]
  }
  const mean = count > 0 ? sum / count : 1 / rateHz
  let squares = 0
  let jitterMaxS = 0
  for (const { from, to } of runs) {
    for (let i = from + 1; i < to; i++) {
      const deviation = t[i] - t[i - 1] - mean
      squares += deviation * deviation
      if (Math.abs(deviation) > jitterMaxS) jitterMaxS = Math.abs(deviation)
    }
  }
  const expected = t.length < 2 ? t.length : (t[t.length - 1] - t[0]) / mean + 1
  return {
    effectiveRateHz: 1 / mean,
    jitterSdS: count > 0 ? Math.sqrt(squares / count) : 0,
    jitterMaxS,
    coverage: expected > 0 ? Math.min(1, t.length / expected) : 0,
  }
}
