import { describe, expect, it } from 'vitest'
import { fQuantile, tQuantile } from '#signal/trend/f-quantile'
import { incompleteBeta } from '#signal/trend/incomplete-beta'
import { logGamma } from '#signal/trend/log-gamma'
import { mannKendall } from '#signal/trend/mann-kendall'
import { normalQuantile } from '#signal/trend/normal-quantile'
import { normalTail } from '#signal/trend/normal-tail'
import { intraclassCorrelations } from '#signal/trend/reliability'
import { theilSen } from '#signal/trend/theil-sen'
import { expectRelative, readVectors } from './vectors.ts'

interface IntraclassVectors {
  table: number[][]
  between: number
  within: number
  betweenTrials: number
  residual: number
  icc11: number[]
  icc31: number[]
  icc1k: number[]
  icc3k: number[]
}

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
  kendall: { y: number[]; s: number; variance: number; p: number; tauB: number }[]
  intraclass: Record<string, IntraclassVectors>
  logGamma: { z: number; value: number }[]
  incompleteBeta: { x: number; a: number; b: number; lower: number; upper: number }[]
  fQuantiles: { p: number; d1: number; d2: number; f: number }[]
  tQuantiles: { p: number; dof: number; t: number }[]
  normalTails: { z: number; p: number }[]
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

  it('gives tau-b and p of scipy.stats.kendalltau, and with ties p counted over all orders', () => {
    expect(vectors.kendall.length).toBe(15)
    for (const { y, s, variance, p, tauB } of vectors.kendall) {
      const test = mannKendall(y)
      const what = y.join(' ')
      expect(test.s, what).toBe(s)
      expect(test.pMethod, what).toBe(y.length <= 10 ? 'exact' : 'normal')
      // 1e-13: rounding only, on both sides.
      expectRelative(test.variance, variance, 1e-13, `variance of ${what}`)
      expectRelative(test.p, p, 1e-13, `p of ${what}`)
      if (s === 0) expect(test.tauB, what).toBe(0)
      else expectRelative(test.tauB, tauB, 1e-13, `tau-b of ${what}`)
    }
  })

  it('gives mean squares from least-squares fits, and the one-way and consistency ICCs with limits', () => {
    expect(Object.keys(vectors.intraclass)).toHaveLength(3)
    for (const [name, expected] of Object.entries(vectors.intraclass)) {
      const got = intraclassCorrelations(expected.table)
      for (const key of ['between', 'within', 'betweenTrials', 'residual'] as const) {
        // 1e-10: differences of sums of squares in the script lose a few digits.
        expectRelative(got.meanSquares[key], expected[key], 1e-10, `${name}: ${key}`)
      }
      for (const key of ['icc11', 'icc31', 'icc1k', 'icc3k'] as const) {
        const { value, low, high } = got[key]
        ;[value, low, high].forEach((number, i) =>
          expectRelative(number, expected[key][i], 1e-9, `${name}: ${key}[${i}]`),
        )
      }
    }
  })
})

describe('distributions against SciPy', () => {
  it('gives the normal quantiles of scipy.stats.norm.ppf within 1e-14', () => {
    for (const { p, z } of vectors.normalQuantiles) {
      expect(Math.abs(normalQuantile(p) - z)).toBeLessThanOrEqual(1e-14 * Math.max(1, Math.abs(z)))
    }
  })

  it('gives the normal tail of scipy.stats.norm.sf within 1e-13, 30 deviations out too', () => {
    expect(vectors.normalTails.length).toBe(12)
    for (const { z, p } of vectors.normalTails) expectRelative(normalTail(z), p, 1e-13, `z ${z}`)
  })

  it('gives scipy.special.gammaln within 1e-14 of its value, or of 1', () => {
    expect(vectors.logGamma.length).toBe(8)
    for (const { z, value } of vectors.logGamma) {
      expect(Math.abs(logGamma(z) - value), `z ${z}`).toBeLessThan(1e-14 * Math.max(1, Math.abs(value)))
    }
  })

  it('gives the smaller tail of scipy.special.betainc within 1e-11, the larger within 1e-12', () => {
    expect(vectors.incompleteBeta.length).toBe(42)
    for (const { x, a, b, lower, upper } of vectors.incompleteBeta) {
      const tails = incompleteBeta({ x, rest: 1 - x }, a, b)
      const what = `I(${x}; ${a}, ${b})`
      // 1e-11: 1 − x itself carries an error that large powers of it multiply.
      expectRelative(tails.lower, lower, lower < upper ? 1e-11 : 1e-12, `${what} lower`)
      expectRelative(tails.upper, upper, upper < lower ? 1e-11 : 1e-12, `${what} upper`)
    }
  })

  it('gives the quantiles of scipy.stats.f and scipy.stats.t within 1e-11', () => {
    expect(vectors.fQuantiles.length).toBe(77)
    for (const { p, d1, d2, f } of vectors.fQuantiles) {
      expectRelative(fQuantile(p, d1, d2), f, 1e-11, `F ${p} ${d1} ${d2}`)
    }
    expect(vectors.tQuantiles.length).toBe(49)
    for (const { p, dof, t } of vectors.tQuantiles) {
      if (p === 0.5) expect(tQuantile(p, dof)).toBe(0)
      else expectRelative(tQuantile(p, dof), t, 1e-11, `t ${p} ${dof}`)
    }
  })
})
