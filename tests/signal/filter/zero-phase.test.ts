import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { butterworthLowPass } from '#signal/filter/butterworth'
import { defaultPadding, sosfiltfilt, sosfiltfiltThree } from '#signal/filter/zero-phase'
import { sines } from '../../reference/signals.ts'

const SEED = 12
const sos = butterworthLowPass(4, 3.5, 100)
const samples = fc
  .array(fc.double({ min: -10, max: 10, noNaN: true }), { minLength: 1, maxLength: 150 })
  .map((values) => Float64Array.from(values))

/** Largest difference of two series. */
const distance = (a: Float64Array, b: Float64Array) =>
  a.reduce((d, v, i) => Math.max(d, Math.abs(v - b[i])), 0)

describe('sosfiltfilt', () => {
  it('squares the gain: a sine at the corner keeps half its amplitude and its phase', () => {
    const x = sines(2000, 100, [[1, 3.5, 0.4]])
    const y = sosfiltfilt(sos, x)
    // 1e-9 in the middle: the start-up of both ends has died away after 10 s.
    for (let i = 990; i < 1010; i++) expect(Math.abs(y[i] - 0.5 * x[i])).toBeLessThan(1e-9)
  })

  it('keeps a constant, ends included, and a straight line away from the ends', () => {
    const constant = new Float64Array(60).fill(9.8)
    expect(distance(sosfiltfilt(sos, constant), constant)).toBeLessThan(1e-11)
    const line = Float64Array.from({ length: 1000 }, (_, i) => 3 + 0.1 * i)
    // 1e-9 in the middle: the delays of both directions cancel and the start-up has died away.
    expect(distance(sosfiltfilt(sos, line).subarray(450, 550), line.subarray(450, 550))).toBeLessThan(1e-9)
  })

  it('gives three channels at once what it gives each, to the last bit, less their levels', () => {
    for (const order of [1, 2, 3, 4, 5, 8]) {
      const filter = butterworthLowPass(order, 3.5, 100)
      for (const n of [1, 2, 30, 777]) {
        const channels = [
          sines(n, 100, [[1, 2, 0]]),
          sines(n, 100, [[2, 5, 1]]),
          new Float64Array(n).fill(9.8),
        ] as const
        sosfiltfiltThree(filter, channels, [0, 0.3, 9.8]).forEach((y, i) => {
          expect(y).toEqual(sosfiltfilt(filter, channels[i].map((value) => value - [0, 0.3, 9.8][i]))) // prettier-ignore
        })
      }
    }
  })

  it('is linear', () => {
    fc.assert(
      fc.property(samples, fc.double({ min: -5, max: 5, noNaN: true }), (x, factor) => {
        const other = sines(x.length, 100, [[1, 2, 0]])
        const sum = x.map((value, i) => factor * value + other[i])
        const expected = sosfiltfilt(sos, other)
        sosfiltfilt(sos, x).forEach((value, i) => (expected[i] += factor * value))
        // 1e-10 of values up to 50: rounding.
        expect(distance(sosfiltfilt(sos, sum), expected)).toBeLessThan(1e-10 * 50)
      }),
      { seed: SEED },
    )
  })

  it('pads as SciPy does: 15 samples for two full sections, 9 for one, 12 for an order of three', () => {
    // Source: SciPy's documented default, 3·(2·sections + 1 − min(zero b2, zero a2)).
    const padding = (order: number) => defaultPadding(butterworthLowPass(order, 3.5, 50))
    expect([2, 3, 4].map(padding)).toEqual([9, 12, 15])
  })

  it('returns a single sample as it is and refuses none', () => {
    expect(sosfiltfilt(sos, Float64Array.of(2.5))[0]).toBeCloseTo(2.5, 12)
    expect(() => sosfiltfilt(sos, new Float64Array(0))).toThrow('sosfiltfilt requires at least one sample')
  })
})
