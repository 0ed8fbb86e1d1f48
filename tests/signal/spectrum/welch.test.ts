import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { bandPower, densityAt } from '#signal/spectrum/band-power'
import { hannWindow } from '#signal/spectrum/hann'
import { sumPsd, welch } from '#signal/spectrum/welch'
import { noise, sines } from '../../reference/signals.ts'

const SEED = 21

describe('hannWindow', () => {
  // Source: Heinzel, Rüdiger & Schilling 2002, table of windows: NENBW 1.5000 (from memory).
  it('has a noise bandwidth of 1.5 bins and a mean of a half', () => {
    const window = hannWindow(4096)
    const sum = window.reduce((s, w) => s + w, 0)
    const squares = window.reduce((s, w) => s + w * w, 0)
    expect((4096 * squares) / sum ** 2).toBeCloseTo(1.5, 12)
    expect(sum / 4096).toBeCloseTo(0.5, 12)
  })
})

describe('welch', () => {
  // Source: the worked example in SciPy's own tests (impulses at 0 and 8 of 16 samples).
  it('gives the published density of two impulses', () => {
    const x = new Float64Array(16)
    x[0] = 1
    x[8] = 1
    const expected = [0.08333333, 0.15277778, 0.22222222, 0.22222222, 0.11111111]
    welch(x, 1, { segmentSamples: 8 }).density.forEach((p, k) => expect(p).toBeCloseTo(expected[k], 8))
  })

  it.each([200, 201])('of a sine of amplitude A holds A²/2 with segments of %i samples', (segmentSamples) => {
    const psd = welch(sines(1000, 100, [[0.5, 10, 0.3]]), 100, { segmentSamples })
    const power = psd.density.reduce((sum, p) => sum + p, 0) * psd.frequencyHz[1]
    // 1e-3: with 201 samples the sine does not fit the segment and the removed mean is not quite 0.
    expect(Math.abs(power / 0.125 - 1)).toBeLessThan(1e-3)
  })

  it('scales with the square of the signal and ignores an offset', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 1e6 }),
        fc.double({ min: 0.01, max: 100, noNaN: true }),
        fc.double({ min: -100, max: 100, noNaN: true }),
        (seed, factor, offset) => {
          const x = noise(300, seed)
          const base = welch(x, 50, { segmentSamples: 100 }).density
          const moved = welch(
            x.map((value) => factor * value + offset),
            50,
            { segmentSamples: 100 },
          ).density
          // From bin 2 on: rounding of the offset stays in the two bins next to 0 Hz.
          for (let k = 2; k < base.length; k++) {
            expect(Math.abs(moved[k] / base[k] / factor ** 2 - 1)).toBeLessThan(1e-6)
          }
        },
      ),
      { seed: SEED, numRuns: 50 },
    )
  })

  it('sums axes to a density that no rotation changes', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 2 * Math.PI, noNaN: true }), (angle) => {
        const [x, y] = [noise(400, 1), sines(400, 100, [[1, 6, 0]])]
        const [c, s] = [Math.cos(angle), Math.sin(angle)]
        const density = (a: Float64Array, b: Float64Array) =>
          sumPsd([a, b].map((axis) => welch(axis, 100, { segmentSamples: 200 }))).density
        const turned = density(
          x.map((value, i) => c * value - s * y[i]),
          x.map((value, i) => s * value + c * y[i]),
        )
        density(x, y).forEach((p, k) => expect(Math.abs(turned[k] - p)).toBeLessThan(1e-12))
      }),
      { seed: SEED, numRuns: 30 },
    )
  })

  it.each([
    [2, undefined, 'welch requires whole segmentSamples in 3..10 (samples given), got 2'],
    [11, undefined, 'welch requires whole segmentSamples in 3..10 (samples given), got 11'],
    [8, 8, 'welch requires whole overlapSamples in 0..7, got 8'],
  ])('refuses segments of %s with overlap %s', (segmentSamples, overlapSamples, message) => {
    const call = () => welch(new Float64Array(10), 50, { segmentSamples, overlapSamples })
    expect(call).toThrow(new RangeError(message))
  })

  it('refuses an unusable rate, and sums only equal bins', () => {
    expect(() => welch(new Float64Array(10), 0, { segmentSamples: 8 })).toThrow(
      'welch requires rateHz > 0, got 0',
    )
    const psd = (n: number) => welch(noise(100), 50, { segmentSamples: n })
    expect(() => sumPsd([psd(50), psd(25)])).toThrow(RangeError)
    expect(() => sumPsd([])).toThrow(RangeError)
  })
})

describe('bandPower', () => {
  const psd = welch(noise(1000), 100, { segmentSamples: 200 })

  it('adds up over neighbouring bands, whatever their edges', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 50, noNaN: true }),
        fc.double({ min: 0, max: 50, noNaN: true }),
        fc.double({ min: 0, max: 50, noNaN: true }),
        (...edges) => {
          const [a, b, c] = edges.sort((p, q) => p - q)
          fc.pre(a < b && b < c)
          const sum = bandPower(psd, a, b) + bandPower(psd, b, c)
          expect(Math.abs(sum - bandPower(psd, a, c))).toBeLessThan(1e-12)
        },
      ),
      { seed: SEED },
    )
  })

  it('of a flat density is density times width', () => {
    const flat = { ...psd, density: new Float64Array(psd.density.length).fill(0.2) }
    expect(bandPower(flat, 3.3, 7.9)).toBeCloseTo(0.2 * 4.6, 12)
  })

  it('keeps the last density above the last bin of an odd segment', () => {
    const odd = welch(noise(303), 100, { segmentSamples: 101 })
    const last = odd.density.length - 1
    expect(densityAt(odd, 50)).toBe(odd.density[last])
    const expected = (50 - odd.frequencyHz[last]) * odd.density[last]
    expect(bandPower(odd, odd.frequencyHz[last], 50)).toBeCloseTo(expected, 12)
  })

  it.each([
    [4, 4, 'bandPower requires 0 <= fromHz < toHz, got 4 and 4'],
    [-1, 4, 'bandPower requires 0 <= fromHz < toHz, got -1 and 4'],
    [4, 60, 'bandPower requires toHz <= 50 (half of rateHz 100), got 60'],
  ])('refuses the band %d–%d Hz', (fromHz, toHz, message) => {
    expect(() => bandPower(psd, fromHz, toHz)).toThrow(new RangeError(message))
  })
})
