import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { inversionCounts } from '#signal/trend/kendall-counts'
import { mannKendall, MIN_VALUES_FOR_5_PERCENT } from '#signal/trend/mann-kendall'

const SEED = 62

// Numbers from elsewhere: tests/reference/published-trend.test.ts and scipy-trend.test.ts.
describe('mannKendall', () => {
  it('gives S of a rising series all pairs, tau 1, and the opposite when it falls', () => {
    const rising = mannKendall([1, 2, 4, 8, 16])
    expect(rising).toMatchObject({ n: 5, s: 10, tauB: 1, pMethod: 'exact' })
    expect(rising.p).toBeCloseTo(2 / 120, 15)
    expect(mannKendall([16, 8, 4, 2, 1])).toMatchObject({ s: -10, tauB: -1, p: rising.p, z: -rising.z })
  })

  it('finds nothing in equal values', () => {
    expect(mannKendall([3, 3, 3, 3])).toMatchObject({ s: 0, variance: 0, z: 0, p: 1, tauB: null })
    expect(mannKendall(new Float64Array(20))).toMatchObject({ s: 0, z: 0, p: 1, tauB: null })
  })

  it('counts p up to 10 values and approximates it from 11 on, where both nearly agree', () => {
    const values = [3, 1, 4, 6, 5, 9, 2, 8, 7, 10]
    const exact = mannKendall(values)
    expect(exact.pMethod).toBe('exact')
    expect(mannKendall([...values, 11]).pMethod).toBe('normal')
    // 0.005: how far the normal approximation with continuity correction is off at n = 10.
    const tail = Math.abs(exact.z)
    expect(exact.p).toBeGreaterThan(0.001)
    expect(Math.abs(exact.p - 2 * normalTailBySum(tail))).toBeLessThan(0.005)
  })

  it('cannot reach p < 0.05 with fewer values than MIN_VALUES_FOR_5_PERCENT, and can with as many', () => {
    const rising = (n: number) => mannKendall(Array.from({ length: n }, (_, i) => i)).p
    expect(rising(MIN_VALUES_FOR_5_PERCENT - 1)).toBeCloseTo(1 / 12, 15)
    expect(rising(MIN_VALUES_FOR_5_PERCENT)).toBeLessThan(0.05)
  })

  it('depends on the order of the values only, and turns with the sign', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: -6, max: 6 }), { minLength: 2, maxLength: 25 }), (values) => {
        const test = mannKendall(values)
        expect(mannKendall(values.map((value) => Math.exp(value)))).toEqual(test)
        const turned = mannKendall(values.map((value) => -value))
        expect(turned.p).toBeCloseTo(test.p, 14)
        expect(turned.s).toBe(0 - test.s)
        expect(test.p).toBeGreaterThan(0)
        expect(test.p).toBeLessThanOrEqual(1)
      }),
      { seed: SEED },
    )
  })

  it('refuses one value and values that are not finite', () => {
    expect(() => mannKendall([1])).toThrow('mannKendall requires at least 2 values, got 1')
    expect(() => mannKendall([1, NaN, 2])).toThrow('mannKendall requires finite values, got NaN at index 1')
  })
})

describe('inversionCounts', () => {
  // Source: row 4 of the Mahonian numbers (OEIS A008302, from memory).
  it('gives the Mahonian numbers without ties', () => {
    expect(inversionCounts([1, 1, 1, 1])).toEqual([1, 3, 5, 6, 5, 3, 1])
  })

  it('gives the inversions of every distinct order when values are tied', () => {
    for (const groups of [[2, 2], [3, 1, 2], [1, 4], [2, 1, 1, 2], [5]]) {
      const values = groups.flatMap((size, group) => Array<number>(size).fill(group))
      expect(inversionCounts(groups), groups.join()).toEqual(inversionsOneByOne(values))
    }
  })

  it('counts every order of up to 18 values exactly', () => {
    const total = inversionCounts(Array<number>(18).fill(1)).reduce((sum, count) => sum + count, 0)
    // 18!, exact as a double.
    expect(total).toBe(6402373705728000)
  })

  it('refuses no values, too many, and sizes that are no counts', () => {
    expect(() => inversionCounts([])).toThrow('inversionCounts requires 1 to 18 values, got 0')
    expect(() => inversionCounts([19])).toThrow('inversionCounts requires 1 to 18 values, got 19')
    expect(() => inversionCounts([2, 0])).toThrow('inversionCounts requires whole sizes > 0, got 2, 0')
  })
})

/** P(Z > z) by the trapezoid rule, far enough out; 1e-9. */
function normalTailBySum(z: number): number {
  const step = 1e-3
  let sum = 0
  for (let x = z; x < z + 10; x += step) sum += Math.exp(-(x * x) / 2) + Math.exp(-((x + step) ** 2) / 2)
  return (sum * step) / 2 / Math.sqrt(2 * Math.PI)
}

function inversionsOneByOne(values: number[]): number[] {
  const counts: number[] = []
  const seen = new Set<string>()
  const visit = (order: number[], left: number[]) => {
    if (left.length === 0) {
      if (seen.has(order.join())) return
      seen.add(order.join())
      let inversions = 0
      order.forEach((a, i) => order.slice(i + 1).forEach((b) => (inversions += a > b ? 1 : 0)))
      while (counts.length <= inversions) counts.push(0)
      counts[inversions] += 1
      return
    }
    left.forEach((value, i) => visit([...order, value], left.toSpliced(i, 1)))
  }
  visit([], values)
  return counts
}
