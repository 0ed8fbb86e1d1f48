import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { butterworthLowPass } from '#signal/filter/butterworth'
import { CausalFilter } from '#signal/filter/causal'

const SEED = 11
const samples = fc.array(fc.double({ min: -100, max: 100, noNaN: true }), { minLength: 1, maxLength: 200 })

describe('CausalFilter', () => {
  it('gives the same output however a stream is split', () => {
    fc.assert(
      fc.property(samples, fc.nat(), fc.integer({ min: 1, max: 6 }), (values, cut, order) => {
        const sos = butterworthLowPass(order, 3.5, 50)
        const x = Float64Array.from(values)
        const at = cut % (x.length + 1)
        const whole = new CausalFilter(sos).process(x)
        const parts = new CausalFilter(sos)
        const pieces = [...parts.process(x.subarray(0, at)), ...parts.process(x.subarray(at))]
        const single = new CausalFilter(sos)
        const pushed = values.map((value) => single.push(value))
        // Bit for bit: the same operations in the same order.
        expect(pieces).toEqual([...whole])
        expect(pushed).toEqual([...whole])
      }),
      { seed: SEED },
    )
  })

  it('passes a constant unchanged after settle, from the first sample on', () => {
    const filter = new CausalFilter(butterworthLowPass(4, 3.5, 100))
    filter.settle(9.81)
    // 1e-12: rounding of the steady state.
    for (let i = 0; i < 50; i++) expect(Math.abs(filter.push(9.81) - 9.81)).toBeLessThan(1e-12)
  })

  it('starts at rest: an impulse comes out scaled by b0', () => {
    const sos = butterworthLowPass(2, 3.5, 50)
    expect(new CausalFilter(sos).push(1)).toBe(sos[0][0])
  })

  it('leaves its input alone and refuses a filter without sections', () => {
    const x = Float64Array.of(1, 2, 3)
    new CausalFilter(butterworthLowPass(2, 3.5, 50)).process(x)
    expect([...x]).toEqual([1, 2, 3])
    expect(() => new CausalFilter([])).toThrow(RangeError)
  })
})
