import { describe, expect, it } from 'vitest'
import { butterworthHighPass, butterworthLowPass } from '#signal/filter/butterworth'
import type { Sos } from '#signal/filter/sos'

/** |H| at one frequency, from the definition of the transfer function. */
function gain(sos: Sos, atHz: number, rateHz: number): number {
  const angle = (2 * Math.PI * atHz) / rateHz
  const size = (c0: number, c1: number, c2: number) =>
    Math.hypot(
      c0 + c1 * Math.cos(angle) + c2 * Math.cos(2 * angle),
      c1 * Math.sin(angle) + c2 * Math.sin(2 * angle),
    )
  return sos.reduce((product, [b0, b1, b2, a0, a1, a2]) => (product * size(b0, b1, b2)) / size(a0, a1, a2), 1)
}

describe('butterworthLowPass', () => {
  // Source: definition of the Butterworth filter, |H(fc)|² = 1/2; handbooks round 20·log10 to −3.01 dB.
  it.each([1, 2, 3, 4, 5, 8])('of order %i has −3.01 dB at the corner and 0 dB at 0 Hz', (order) => {
    const sos = butterworthLowPass(order, 3.5, 100)
    expect(20 * Math.log10(gain(sos, 3.5, 100))).toBeCloseTo(-3.0103, 4)
    expect(gain(sos, 0, 100)).toBeCloseTo(1, 12)
  })

  it('falls by the closed form of the prewarped bilinear transform everywhere', () => {
    const [order, cutoffHz, rateHz] = [4, 3.5, 50]
    const sos = butterworthLowPass(order, cutoffHz, rateHz)
    for (const f of [0.1, 1, 3, 5, 10, 20]) {
      const ratio = Math.tan((Math.PI * f) / rateHz) / Math.tan((Math.PI * cutoffHz) / rateHz)
      expect(gain(sos, f, rateHz)).toBeCloseTo(1 / Math.sqrt(1 + ratio ** (2 * order)), 12)
    }
  })

  // Source: Q values of the Butterworth sections as tabulated in filter handbooks (from memory).
  it.each([
    [2, [0.70711]],
    [4, [0.5412, 1.30656]],
    [6, [0.51764, 0.70711, 1.93185]],
    [8, [0.5098, 0.60134, 0.89998, 2.56292]],
  ])('of order %i has the handbook Q values, lowest first', (order, expected) => {
    const q = butterworthLowPass(order, 5, 100).map(([, , , , a1, a2]) => {
      // Back to the analogue section s² + (w/Q)·s + w² through the bilinear transform.
      const square = (1 + a1 + a2) / (1 - a1 + a2)
      const damping = (2 * (1 - a2)) / (1 - a1 + a2)
      return Math.sqrt(square) / damping
    })
    q.forEach((value, i) => expect(value).toBeCloseTo(expected[i], 4))
  })

  it.each([
    [0, 3.5, 100, 'butterworthLowPass requires a whole order >= 1, got 0'],
    [2.5, 3.5, 100, 'butterworthLowPass requires a whole order >= 1, got 2.5'],
    [4, 3.5, 0, 'butterworthLowPass requires rateHz > 0, got 0'],
    [4, 3.5, 7, 'butterworthLowPass requires 0 < cutoffHz < 3.5 (half of rateHz 7), got 3.5'],
    [4, NaN, 100, 'butterworthLowPass requires 0 < cutoffHz < 50 (half of rateHz 100), got NaN'],
  ])('refuses order %d, corner %d Hz, rate %d Hz', (order, cutoffHz, rateHz, message) => {
    expect(() => butterworthLowPass(order, cutoffHz, rateHz)).toThrow(new RangeError(message))
  })
})

describe('butterworthHighPass', () => {
  it('has −3.01 dB at the corner, nothing at 0 Hz and all at Nyquist', () => {
    const sos = butterworthHighPass(3, 0.5, 50)
    expect(20 * Math.log10(gain(sos, 0.5, 50))).toBeCloseTo(-3.0103, 4)
    expect(gain(sos, 0, 50)).toBeLessThan(1e-12)
    expect(gain(sos, 25, 50)).toBeCloseTo(1, 12)
  })
})
