import { describe, expect, it } from 'vitest'
import { BluesteinFft } from '#signal/spectrum/bluestein'
import { realFft } from '#signal/spectrum/fft'
import { SmoothFft } from '#signal/spectrum/smooth-fft'
import { noise } from '../../reference/signals.ts'

/** Sum over the definition, O(n²). */
function directDft(re: Float64Array, im: Float64Array): { re: Float64Array; im: Float64Array } {
  const n = re.length
  const out = { re: new Float64Array(n), im: new Float64Array(n) }
  for (let k = 0; k < n; k++) {
    for (let j = 0; j < n; j++) {
      const angle = (-2 * Math.PI * ((j * k) % n)) / n
      out.re[k] += re[j] * Math.cos(angle) - im[j] * Math.sin(angle)
      out.im[k] += re[j] * Math.sin(angle) + im[j] * Math.cos(angle)
    }
  }
  return out
}

function expectTransform(plan: { n: number; transform(re: Float64Array, im: Float64Array): void }): void {
  const re = noise(plan.n, 1)
  const im = noise(plan.n, 2)
  const expected = directDft(re, im)
  plan.transform(re, im)
  const scale = Math.sqrt(plan.n)
  // 1e-12 of the typical bin: the direct sum itself rounds by about n·1e-16.
  for (let k = 0; k < plan.n; k++) {
    expect(Math.abs(re[k] - expected.re[k]) / scale).toBeLessThan(1e-12)
    expect(Math.abs(im[k] - expected.im[k]) / scale).toBeLessThan(1e-12)
  }
}

describe('transforms', () => {
  it.each([1, 2, 3, 4, 5, 6, 8, 9, 10, 12, 15, 16, 25, 30, 60, 125, 200, 243])(
    'SmoothFft of %i equals the defining sum',
    (n) => expectTransform(new SmoothFft(n)),
  )

  it.each([1, 2, 3, 7, 11, 64, 97, 100, 211])('BluesteinFft of %i equals the defining sum', (n) =>
    expectTransform(new BluesteinFft(n)),
  )

  it('SmoothFft refuses a length with another prime factor', () => {
    expect(() => new SmoothFft(14)).toThrow(
      'SmoothFft requires a length made of the factors 2, 3 and 5, got 14',
    )
  })

  it.each([64, 100, 101, 873])('of %i samples keeps the energy (Parseval)', (n) => {
    const x = noise(n)
    const fft = realFft(n)
    fft.transform(x)
    let energy = 0
    for (let k = 0; k < fft.bins; k++) {
      const twice = k > 0 && 2 * k < n ? 2 : 1
      energy += twice * (fft.re[k] ** 2 + fft.im[k] ** 2)
    }
    const expected = x.reduce((sum, value) => sum + value * value, 0)
    expect(Math.abs(energy / n / expected - 1)).toBeLessThan(1e-13)
  })

  it('keeps at most 64 plans, and a plan made again gives the same spectrum', () => {
    const x = noise(90)
    realFft(90).transform(x)
    const before = realFft(90).re.slice()
    const kept = realFft(90)
    for (let n = 100; n < 200; n++) realFft(n)
    expect(realFft(90)).not.toBe(kept)
    realFft(90).transform(x)
    expect([...realFft(90).re]).toEqual([...before])
  })

  it('refuses another length than its own', () => {
    expect(() => realFft(8).transform(new Float64Array(7))).toThrow(TypeError)
    expect(() => realFft(0)).toThrow(RangeError)
  })
})
