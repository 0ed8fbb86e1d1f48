import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { fQuantile95, predictionEllipse, predictionFactor } from '#signal/sway/ellipse'
import { noise, sines } from '../../reference/signals.ts'

const SEED = 31

describe('predictionEllipse', () => {
  it('of two sines a quarter period apart has semi-axes √(k·A²n/(2(n−1))): the closed form', () => {
    const n = 1000
    const ellipse = predictionEllipse(
      sines(n, 100, [[0.3, 0.5, 0]]),
      sines(n, 100, [[0.1, 0.5, Math.PI / 2]]),
    )
    const k = predictionFactor(n)
    expect(ellipse.major).toBeCloseTo(Math.sqrt((k * 0.045 * n) / (n - 1)), 12)
    expect(ellipse.minor).toBeCloseTo(Math.sqrt((k * 0.005 * n) / (n - 1)), 12)
    expect(ellipse.area).toBeCloseTo(Math.PI * ellipse.major * ellipse.minor, 12)
    expect(ellipse.angleDeg).toBeCloseTo(0, 9)
    expect(ellipse.n).toBe(n)
  })

  it('holds 95 % of normal samples', () => {
    // Source: the definition of a prediction ellipse. The share of 20 000 seeded samples scatters by 0.15 %.
    const u = noise(40000).map((value) => value / Math.sqrt(12) + 0.5)
    const radius = (i: number) => Math.sqrt(-2 * Math.log(u[2 * i]))
    const x = Float64Array.from({ length: 20000 }, (_, i) => radius(i) * Math.cos(2 * Math.PI * u[2 * i + 1]))
    const y = Float64Array.from({ length: 20000 }, (_, i) => radius(i) * Math.sin(2 * Math.PI * u[2 * i + 1]))
    const { major, minor } = predictionEllipse(x, y)
    const inside = x.filter((value, i) => (value / major) ** 2 + (y[i] / minor) ** 2 <= 1).length
    expect(Math.abs(inside / 20000 - 0.95)).toBeLessThan(0.006)
  })

  it('turns with the samples and keeps its area', () => {
    fc.assert(
      fc.property(fc.double({ min: -Math.PI, max: Math.PI, noNaN: true }), (angle) => {
        const x = sines(400, 100, [[0.3, 0.5, 0]])
        const y = noise(400).map((value) => 0.03 * value)
        const [c, s] = [Math.cos(angle), Math.sin(angle)]
        const still = predictionEllipse(x, y)
        const turned = predictionEllipse(
          x.map((value, i) => c * value - s * y[i]),
          x.map((value, i) => s * value + c * y[i]),
        )
        expect(Math.abs(turned.area / still.area - 1)).toBeLessThan(1e-12)
        // An axis has no head: angles agree modulo half a turn.
        const difference = ((turned.angleDeg - still.angleDeg) / 180 - angle / Math.PI) % 1
        expect(Math.abs(Math.sin(Math.PI * difference))).toBeLessThan(1e-9)
      }),
      { seed: SEED },
    )
  })

  it('of motion along a line has no area', () => {
    const x = sines(100, 50, [[1, 1, 0]])
    const ellipse = predictionEllipse(
      x,
      x.map((value) => 2 * value),
    )
    expect(ellipse.area).toBeLessThan(1e-6)
    expect(ellipse.angleDeg).toBeCloseTo((Math.atan(2) * 180) / Math.PI, 9)
  })

  it('of a dog that does not move is a point', () => {
    const { area, major, minor } = predictionEllipse(new Float64Array(10).fill(1), new Float64Array(10))
    expect([area, major, minor]).toEqual([0, 0, 0])
  })

  it('refuses two samples and unequal axes', () => {
    expect(() => predictionEllipse(new Float64Array(2), new Float64Array(2))).toThrow(
      'predictionEllipse requires at least 3 samples, got 2',
    )
    expect(() => predictionEllipse(new Float64Array(3), new Float64Array(4))).toThrow(TypeError)
  })
})

describe('predictionFactor', () => {
  // Source: Chew 1966 and Duarte 2015 with F from tables: k for N = 10, 100, 1500, and −2·ln 0.05 without limit.
  it.each([
    [10, 11.035951],
    [100, 6.303865],
    [1500, 6.011475],
  ])('for %i samples is %d', (n, k) => expect(predictionFactor(n)).toBeCloseTo(k, 6))

  it('tends to −2·ln 0.05 = 5.991465', () => {
    expect(predictionFactor(1e9)).toBeCloseTo(-2 * Math.log(0.05), 6)
  })
})

describe('fQuantile95', () => {
  // Source: printed F tables, 5 % points for 2 numerator degrees of freedom.
  it.each([
    [1, 199.5],
    [2, 19.0],
    [10, 4.1],
    [30, 3.32],
    [120, 3.07],
  ])('with %i denominator degrees of freedom is %d', (dof, table) => {
    expect(Math.abs(fQuantile95(dof) / table - 1)).toBeLessThan(2e-3)
  })
})
