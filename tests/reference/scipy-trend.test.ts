import { describe, expect, it } from 'vitest'
import { normalQuantile } from '#signal/trend/normal-quantile'
import { theilSen } from '#signal/trend/theil-sen'
import { readVectors } from './vectors.ts'

// Source: SciPy (version inside the file), made by scripts/trend.py.
const vectors = readVectors<{
  theilslopes: {
    x: number[]
    y: number[]
    confidence: number
    slope: number
    intercept: number
    low: number
    high: number
  }[]
  normalQuantiles: { p: number; z: number }[]
}>('scipy_trend')

describe('trend against SciPy', () => {
  it('gives slope, intercept and Sen interval of scipy.stats.theilslopes', () => {
    expect(vectors.theilslopes.length).toBe(21)
    for (const { x, y, confidence, slope, intercept, low, high } of vectors.theilslopes) {
      const fit = theilSen(x, y, confidence)
      const got = [fit.slope, fit.intercept, fit.low, fit.high]
      const expected = [slope, intercept, low, high]
      // 1e-13 absolute: the values are of order 1 to 10 and differ by rounding only.
      got.forEach((value, i) => expect(Math.abs(value - expected[i])).toBeLessThan(1e-13))
    }
  })

  it('gives the normal quantiles of scipy.stats.norm.ppf within 1e-14', () => {
    for (const { p, z } of vectors.normalQuantiles) {
      expect(Math.abs(normalQuantile(p) - z)).toBeLessThanOrEqual(1e-14 * Math.max(1, Math.abs(z)))
    }
  })
})
