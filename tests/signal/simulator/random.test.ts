import { describe, expect, it } from 'vitest'
import { createRandom } from '#signal/simulator/random'
import { deviation, mean } from './scenes.ts'

const N = 100_000

function draws(draw: () => number): Float64Array {
  return Float64Array.from({ length: N }, draw)
}

describe('createRandom', () => {
  it('gives the same numbers for the same seed and others for another', () => {
    const [a, b, c] = [createRandom('a'), createRandom('a'), createRandom('b')]
    const first = Array.from({ length: 20 }, () => a.uniform())
    expect(Array.from({ length: 20 }, () => b.uniform())).toEqual(first)
    expect(Array.from({ length: 20 }, () => c.uniform())).not.toEqual(first)
  })

  it('draws uniforms flat over the unit interval', () => {
    const { uniform } = createRandom(1)
    const counts = new Float64Array(100)
    for (const u of draws(() => uniform())) counts[Math.floor(u * 100)]++
    const chiSquare = counts.reduce((sum, count) => sum + (count - N / 100) ** 2 / (N / 100), 0)
    // 0.1 % and 99.9 % points of chi-square with 99 degrees of freedom (SciPy chi2.ppf): 60.3 and 148.2.
    expect(chiSquare).toBeGreaterThan(60.3)
    expect(chiSquare).toBeLessThan(148.2)
  })

  it('draws normals with the moments and quantiles of the standard normal', () => {
    const { normal } = createRandom(2)
    const x = draws(() => normal())
    // Four standard errors: 4/√N = 0.0126 for the mean, 4/√(2N) = 0.009 for the deviation.
    expect(Math.abs(mean(x))).toBeLessThan(0.0126)
    expect(Math.abs(deviation(x) - 1)).toBeLessThan(0.009)
    // P(|z| < 1.959964) = 0.95 (normal table); four standard errors of a share are 0.0028.
    const inside = x.filter((value) => Math.abs(value) < 1.959964).length / N
    expect(Math.abs(inside - 0.95)).toBeLessThan(0.0028)
    // Kurtosis 3 with standard error √(24/N) = 0.0155.
    expect(Math.abs(mean(x.map((value) => value ** 4)) - 3)).toBeLessThan(0.1)
  })

  it('has neighbours that do not correlate', () => {
    const { normal } = createRandom(3)
    const x = draws(() => normal())
    const lagged = mean(x.subarray(1).map((value, i) => value * x[i]))
    expect(Math.abs(lagged)).toBeLessThan(4 / Math.sqrt(N))
  })

  it('splits by label, whatever was drawn from the parent before', () => {
    const parent = createRandom('p')
    const early = parent.split('x').uniform()
    parent.normal()
    parent.uniform()
    expect(parent.split('x').uniform()).toBe(early)
    expect(parent.split('y').uniform()).not.toBe(early)
  })

  it('gives streams of neighbouring labels that do not correlate', () => {
    const [a, b] = [createRandom(4).split('1'), createRandom(4).split('2')]
    const product = mean(draws(() => a.normal() * b.normal()))
    expect(Math.abs(product)).toBeLessThan(4 / Math.sqrt(N))
  })
})
