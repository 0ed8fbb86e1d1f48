import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { mdc95, ownMdc95, ownNoise, percentOfLog, semOfTable } from '#signal/trend/detectable-change'
import { fQuantile, tQuantile } from '#signal/trend/f-quantile'
import { incompleteBeta } from '#signal/trend/incomplete-beta'
import { logGamma } from '#signal/trend/log-gamma'
import { twoWayMeanSquares } from '#signal/trend/mean-squares'
import { normalTail } from '#signal/trend/normal-tail'
import { intraclassCorrelations } from '#signal/trend/reliability'

const SEED = 63

const table = fc.tuple(fc.integer({ min: 2, max: 8 }), fc.integer({ min: 2, max: 5 })).chain(([n, k]) =>
  fc.array(fc.array(fc.integer({ min: -20, max: 20 }), { minLength: k, maxLength: k }), {
    minLength: n,
    maxLength: n,
  }),
)

// Numbers from elsewhere: tests/reference/published-trend.test.ts and scipy-trend.test.ts.
describe('intraclassCorrelations', () => {
  it('does not change when a unit or an origin changes, and orders its limits around its values', () => {
    fc.assert(
      fc.property(table, (rows) => {
        const squares = twoWayMeanSquares(rows)
        fc.pre(squares.between > 1e-9 && squares.residual > 1e-9)
        const base = intraclassCorrelations(rows)
        const moved = intraclassCorrelations(rows.map((row) => row.map((value) => 3.5 * value - 7)))
        for (const key of ['icc11', 'icc21', 'icc31'] as const) {
          expect(moved[key].value).toBeCloseTo(base[key].value, 9)
          expect(moved[key].low).toBeCloseTo(base[key].low, 9)
          expect(base[key].value).toBeLessThanOrEqual(1)
          // The published approximation for agreement does not keep this order below 0.
          if (key === 'icc21' && base[key].value <= 0) continue
          expect(base[key].low).toBeLessThanOrEqual(base[key].value + 1e-12)
          expect(base[key].high).toBeGreaterThanOrEqual(base[key].value - 1e-12)
        }
      }),
      { seed: SEED },
    )
  })

  it('splits the squares about the grand mean without remainder', () => {
    fc.assert(
      fc.property(table, (rows) => {
        const { subjects: n, trials: k, ...ms } = twoWayMeanSquares(rows)
        const values = rows.flat()
        const mean = values.reduce((sum, value) => sum + value, 0) / values.length
        const total = values.reduce((sum, value) => sum + (value - mean) ** 2, 0)
        const between = ms.between * (n - 1)
        const rest = ms.betweenTrials * (k - 1) + ms.residual * (n - 1) * (k - 1)
        expect(between + rest).toBeCloseTo(total, 8)
        expect(between + ms.within * n * (k - 1)).toBeCloseTo(total, 8)
      }),
      { seed: SEED },
    )
  })

  it('counts a shift between trials against agreement, not against consistency', () => {
    const rows = [
      [1, 4.1],
      [5, 8],
      [9, 12.1],
      [12, 14.9],
    ]
    const { icc21, icc31, meanSquares } = intraclassCorrelations(rows)
    expect(icc31.value).toBeGreaterThan(0.99)
    expect(icc21.value).toBeLessThan(0.9)
    expect(semOfTable(meanSquares, 'agreement')).toBeGreaterThan(5 * semOfTable(meanSquares, 'consistency'))
  })

  it('refuses tables that are too small, ragged, not finite or without variation', () => {
    expect(() => intraclassCorrelations([[1, 2]])).toThrow('requires at least 2 × 2 values, got 1 × 2')
    expect(() => intraclassCorrelations([[1, 2], [3]])).toThrow(TypeError)
    expect(() =>
      intraclassCorrelations([
        [1, 2],
        [3, Infinity],
      ]),
    ).toThrow('requires finite values, got Infinity in row 1')
    expect(() =>
      intraclassCorrelations([
        [1, 1],
        [2, 2],
      ]),
    ).toThrow('requires values that vary between subjects and within them')
    expect(() =>
      intraclassCorrelations(
        [
          [1, 2],
          [3, 5],
        ],
        1,
      ),
    ).toThrow('requires 0 < confidence < 1, got 1')
  })
})

describe('detectable change', () => {
  it('gives mean, ddof-1 deviation and degrees of freedom of own sessions', () => {
    expect(ownNoise([2, 4, 4, 4, 6])).toEqual({ mean: 4, sem: Math.SQRT2, dof: 4 })
  })

  // Source: t quantile 0.975 with 4 degrees of freedom, 2.776445, printed tables of Student's t.
  it('widens the change of single values from 1.96·√2 to t·√2 with few sessions', () => {
    expect(mdc95(1)).toBeCloseTo(1.959964 * Math.SQRT2, 5)
    expect(ownMdc95({ sem: 1, dof: 4 })).toBeCloseTo(2.776445 * Math.SQRT2, 5)
    expect(ownMdc95({ sem: 1, dof: 1e6 })).toBeCloseTo(mdc95(1), 4)
    expect(ownMdc95({ sem: 2, dof: 4 }, 1 / 5, 1 / 3)).toBeCloseTo(2 * 2.776445 * Math.sqrt(8 / 15), 5)
  })

  it('turns a step on logs into percent that undo each other', () => {
    expect(percentOfLog(Math.log(2))).toBeCloseTo(100, 12)
    expect(percentOfLog(-Math.log(2))).toBeCloseTo(-50, 12)
    expect(percentOfLog(1e-12)).toBeCloseTo(1e-10, 20)
  })

  it('refuses too few values, a negative SEM and no variance', () => {
    expect(() => ownNoise([1])).toThrow('ownNoise requires at least 2 values, got 1')
    expect(() => ownNoise([1, NaN])).toThrow('ownNoise requires finite values, got NaN')
    expect(() => mdc95(-1)).toThrow('mdc95 requires sem >= 0, got -1')
    expect(() => ownMdc95({ sem: NaN, dof: 4 })).toThrow('ownMdc95 requires sem >= 0, got NaN')
    expect(() => ownMdc95({ sem: 1, dof: 4 }, 0)).toThrow('ownMdc95 requires variances > 0, got 0 and 1')
    expect(() => ownMdc95({ sem: 1, dof: 0 })).toThrow('tQuantile requires dof > 0, got 0')
  })
})

describe('distributions', () => {
  it('give the closed form F(2, d) = (d/2)·((1 − p)^(−2/d) − 1) within 1e-12', () => {
    for (const d of [1, 3, 10, 57.5, 900]) {
      for (const p of [0.01, 0.5, 0.95, 0.999]) {
        const closed = (d / 2) * Math.expm1((-2 / d) * Math.log1p(-p))
        expect(Math.abs(fQuantile(p, 2, d) / closed - 1), `${p} ${d}`).toBeLessThan(1e-12)
      }
    }
  })

  it('invert: the beta tail at an F quantile is the probability it was asked for', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.001, max: 0.999, noNaN: true }),
        fc.double({ min: 0.5, max: 200, noNaN: true }),
        fc.double({ min: 0.5, max: 200, noNaN: true }),
        (p, d1, d2) => {
          const f = fQuantile(p, d1, d2)
          const share = { x: (d1 * f) / (d1 * f + d2), rest: d2 / (d1 * f + d2) }
          // 1e-11 absolute: x carries the rounding of f.
          expect(Math.abs(incompleteBeta(share, d1 / 2, d2 / 2).lower - p)).toBeLessThan(1e-11)
          expect(fQuantile(p, d1, d2) * fQuantile(1 - p, d2, d1)).toBeCloseTo(1, 9)
        },
      ),
      { seed: SEED },
    )
  })

  it('give Cauchy quantiles tan(π(p − ½)) for t with one degree of freedom', () => {
    for (const p of [0.001, 0.2, 0.6, 0.975]) {
      expect(tQuantile(p, 1) / Math.tan(Math.PI * (p - 0.5))).toBeCloseTo(1, 11)
    }
    expect(tQuantile(0.5, 3)).toBe(0)
  })

  it('give factorials, √π and the middle of the normal distribution', () => {
    expect(logGamma(6)).toBeCloseTo(Math.log(120), 14)
    expect(logGamma(0.5)).toBeCloseTo(Math.log(Math.PI) / 2, 14)
    expect(normalTail(0)).toBe(0.5)
    // Both ways of computing meet at 2.
    expect(normalTail(2 - 1e-12) / normalTail(2)).toBeCloseTo(1, 10)
  })

  it('refuse probabilities and parameters outside their range', () => {
    expect(() => fQuantile(1, 2, 3)).toThrow('fQuantile requires 0 < p < 1, got 1')
    expect(() => fQuantile(0.5, 0, 3)).toThrow('fQuantile requires degrees of freedom > 0, got 0 and 3')
    expect(() => tQuantile(0, 3)).toThrow('tQuantile requires 0 < p < 1, got 0')
    expect(() => incompleteBeta({ x: 0.5, rest: 0.6 }, 1, 1)).toThrow('requires shares of 0 to 1')
    expect(() => incompleteBeta({ x: 0.5, rest: 0.5 }, 0, 1)).toThrow('requires a > 0 and b > 0')
    expect(() => logGamma(0)).toThrow('logGamma requires a finite z > 0, got 0')
    expect(() => normalTail(NaN)).toThrow('normalTail requires a number, got NaN')
  })
})
