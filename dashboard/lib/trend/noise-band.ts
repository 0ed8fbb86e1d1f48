import type { Trend } from '#signal/trend/trend-types'

/** Baseline mean and the smallest detectable change about it, in the unit of the measure; null without a baseline. */
export function noiseBand({ baseline, scale }: Trend): { mean: number; low: number; high: number } | null {
  if (baseline === null) return null
  const { mean, mdc95 } = baseline
  const at = (change: number) => (scale === 'log' ? mean * (1 + change / 100) : mean + change)
  return { mean, low: at(mdc95.fall), high: at(mdc95.rise) }
}
