import { describe, expect, test } from 'vitest'
import { expectSeries, readVectors } from '../../reference/vectors.ts'
import { pchip } from '../../../signal/trace/pchip.ts'

interface Vectors {
  tool: string
  cases: { name: string; t: number[]; y: number[]; at: number[]; expected: number[] }[]
}

// SciPy's PchipInterpolator; made by tests/reference/scripts/pchip.py.
describe('pchip', () => {
  test.each(readVectors<Vectors>('scipy_pchip').cases)(
    'equals SciPy: $name',
    ({ name, t, y, at, expected }) => {
      const actual = pchip(Float64Array.from(t), Float64Array.from(y), Float64Array.from(at))
      expectSeries(actual, expected, 1e-13, name) // rounding only
    },
  )
  test('wrong shapes and times outside the samples are refused', () => {
    const t = Float64Array.of(0, 1, 2)
    expect(() => pchip(t, Float64Array.of(1, 2), t)).toThrow(RangeError)
    expect(() => pchip(Float64Array.of(0), Float64Array.of(0), Float64Array.of(0))).toThrow(RangeError)
    expect(() => pchip(t, t, Float64Array.of(-0.1))).toThrow(RangeError)
    expect(() => pchip(t, t, Float64Array.of(2.1))).toThrow(RangeError)
  })
})
