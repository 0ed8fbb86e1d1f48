import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { normalQuantile } from '#signal/trend/normal-quantile'
import { theilSen } from '#signal/trend/theil-sen'

const SEED = 61

describe('theilSen', () => {
  // Source: Sen 1968, J. Am. Stat. Assoc. 63:1379–1389, worked example, as asserted in SciPy's own tests.
  it("gives the slope 4 and the 93 % interval [26/7, 35/8] of Sen's example", () => {
    const fit = theilSen([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], 0.93)
    expect(fit.slope).toBe(4)
    expect(fit.intercept).toBe(4)
    expect(fit.low).toBeCloseTo(26 / 7, 14)
    expect(fit.high).toBeCloseTo(35 / 8, 14)
  })

  it('passes through a straight line and is not moved by one outlier in seven', () => {
    const x = [0, 1, 2, 3, 4, 5, 6]
    const y = x.map((value) => 3 - 0.5 * value)
    expect(theilSen(x, y)).toMatchObject({ slope: -0.5, intercept: 3, low: -0.5, high: -0.5 })
    y[3] = 100
    expect(theilSen(x, y).slope).toBe(-0.5)
  })

  it('follows a change of unit and of origin', () => {
    const points = fc.array(fc.tuple(fc.integer({ min: 0, max: 40 }), fc.integer({ min: -50, max: 50 })), {
      minLength: 3,
      maxLength: 30,
    })
    fc.assert(
      fc.property(
        points,
        fc.integer({ min: 1, max: 20 }),
        fc.integer({ min: -9, max: 9 }),
        (pairs, scale, shift) => {
          const x = pairs.map(([value]) => value)
          const y = pairs.map(([, value]) => value)
          fc.pre(new Set(x).size > 1)
          const base = theilSen(x, y)
          const moved = theilSen(
            x.map((value) => value + shift),
            y.map((value) => scale * value),
          )
          expect(moved.slope).toBeCloseTo(scale * base.slope, 9)
          expect(moved.low).toBeCloseTo(scale * base.low, 9)
          expect(moved.high).toBeCloseTo(scale * base.high, 9)
          expect(base.low).toBeLessThanOrEqual(base.slope)
          expect(base.high).toBeGreaterThanOrEqual(base.slope)
        },
      ),
      { seed: SEED },
    )
  })

  it('refuses one point, equal x, unequal lengths and an odd confidence', () => {
    expect(() => theilSen([1], [1])).toThrow('theilSen requires at least 2 points, got 1')
    expect(() => theilSen([2, 2], [1, 3])).toThrow('theilSen requires two points with different x')
    expect(() => theilSen([1, 2], [1])).toThrow(TypeError)
    expect(() => theilSen([1, 2], [1, 2], 1)).toThrow('theilSen requires 0.5 < confidence < 1, got 1')
  })
})

describe('normalQuantile', () => {
  it('is odd around a half and refuses 0 and 1', () => {
    for (const p of [0.001, 0.02, 0.2, 0.4]) expect(normalQuantile(p)).toBeCloseTo(-normalQuantile(1 - p), 12)
    expect(normalQuantile(0.5)).toBe(0)
    expect(() => normalQuantile(0)).toThrow(RangeError)
    expect(() => normalQuantile(1)).toThrow(RangeError)
  })
})
