import { describe, expect, it } from 'vitest'
import { createRandom } from '#signal/simulator/random'
import { ewmaChart } from '#signal/trend/ewma'
import { individualsChart } from '#signal/trend/individuals-chart'

// Handbook examples: tests/reference/published-trend.test.ts.
describe('ewmaChart', () => {
  it('starts at λ of the first deviation with limits L·λ·σ and widens to L·σ·√(λ/(2 − λ))', () => {
    const chart = ewmaChart([11, ...Array<number>(99).fill(10)], { target: 10, sigma: 2 })
    expect(chart.ewma[0]).toBeCloseTo(10.2, 14)
    expect(chart.high[0]).toBeCloseTo(10 + 2.7 * 0.2 * 2, 14)
    expect(chart.high[99]).toBeCloseTo(10 + 2.7 * 2 * Math.sqrt(0.2 / 1.8), 9)
    expect(chart.low[99]).toBeCloseTo(10 - 2.7 * 2 * Math.sqrt(0.2 / 1.8), 9)
    expect(chart.outside).toEqual([])
  })

  it('is the values themselves at λ = 1', () => {
    const chart = ewmaChart([3, 8, 5], { target: 5, sigma: 1, lambda: 1, limitWidth: 2.5 })
    expect([...chart.ewma]).toEqual([3, 8, 5])
    expect(chart.outside).toEqual([1])
  })

  it('notices a lasting shift of one sigma within 20 values in most series, and rarely sees one without', () => {
    const share = (shift: number) => {
      let found = 0
      for (let seed = 0; seed < 400; seed++) {
        const random = createRandom(`ewma ${seed}`)
        const values = Array.from({ length: 20 }, () => random.normal() + shift)
        if (ewmaChart(values, { target: 0, sigma: 1 }).outside.length > 0) found++
      }
      return found / 400
    }
    // Average run length at one sigma is about 10, without a shift several hundred (Lucas & Saccucci 1990,
    // from memory); 20 values then lie outside once in well under a tenth of series.
    expect(share(1)).toBeGreaterThan(0.85)
    expect(share(0)).toBeLessThan(0.1)
  })

  it('refuses a target, sigma, lambda, width or value it cannot use', () => {
    const good = { target: 0, sigma: 1 }
    expect(() => ewmaChart([1], { ...good, target: NaN })).toThrow('requires a finite target, got NaN')
    expect(() => ewmaChart([1], { ...good, sigma: -1 })).toThrow('requires sigma >= 0, got -1')
    expect(() => ewmaChart([1], { ...good, lambda: 0 })).toThrow('requires 0 < lambda <= 1, got 0')
    expect(() => ewmaChart([1], { ...good, limitWidth: 0 })).toThrow('requires limitWidth > 0, got 0')
    expect(() => ewmaChart([1, NaN], good)).toThrow('ewmaChart requires finite values, got NaN at index 1')
  })
})

describe('individualsChart', () => {
  it('sets limits at 2.66 and 3.267 mean moving ranges and names what lies beyond', () => {
    const values = [10, 11, 10, 11, 10, 11, 10, 11, 10, 11, 10, 20]
    const chart = individualsChart(values)
    const meanRange = 20 / 11
    expect(chart.meanMovingRange).toBeCloseTo(meanRange, 14)
    // 2.66 is 3/1.128 rounded.
    expect((chart.high - chart.mean) / meanRange).toBeCloseTo(2.66, 3)
    expect(chart.movingRangeHigh).toBeCloseTo(3.267 * meanRange, 14)
    expect(chart.outside).toEqual([11])
    expect(chart.jumps).toEqual([11])
  })

  it('estimates sigma from neighbours, so that a slow trend does not widen it', () => {
    const random = createRandom('individuals')
    const noise = Array.from({ length: 2000 }, () => random.normal())
    const level = individualsChart(noise)
    const drifting = individualsChart(noise.map((value, i) => value + 0.01 * i))
    // 4 %: two standard errors of a mean of 2000 overlapping ranges.
    expect(Math.abs(level.sigma - 1)).toBeLessThan(0.04)
    expect(drifting.sigma / level.sigma).toBeCloseTo(1, 2)
  })

  it('refuses fewer than two values and values that are not finite', () => {
    expect(() => individualsChart([1])).toThrow('individualsChart requires at least 2 values, got 1')
    expect(() => individualsChart([1, NaN])).toThrow('individualsChart requires finite values, got NaN')
  })
})
