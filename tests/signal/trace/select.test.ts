import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { median } from '../../../signal/trace/median.ts'
import { selectInPlace } from '../../../signal/trace/select.ts'
import { timed } from '../../helpers/processor-time.ts'

describe('selectInPlace', () => {
  it('gives what stands at k after sorting, whatever the ties and the order', () => {
    const values = fc.array(fc.oneof(fc.integer({ min: -3, max: 3 }), fc.double({ noNaN: true })), {
      minLength: 1,
      maxLength: 200,
    })
    fc.assert(
      fc.property(values, fc.double({ min: 0, max: 1, maxExcluded: true, noNaN: true }), (list, share) => {
        const k = Math.floor(share * list.length)
        const sorted = Float64Array.from(list).sort()
        // + 0: the sort tells −0 from 0, order does not.
        expect(selectInPlace(Float64Array.from(list), k) + 0).toBe(sorted[k] + 0)
        const copy = Float64Array.from(list)
        selectInPlace(copy, k)
        for (let later = k; later < list.length; later += 7) {
          expect(selectInPlace(copy, later, k) + 0).toBe(sorted[later] + 0)
        }
      }),
      { seed: 31, numRuns: 500 },
    )
  })

  it('takes linear time on sorted, reversed and equal values', () => {
    const n = 300_000
    for (const make of [(i: number) => i, (i: number) => -i, () => 1, (i: number) => Math.abs(i - n / 2)]) {
      const values = Float64Array.from({ length: n }, (_, i) => make(i))
      const sorted = values.slice().sort()
      // A quadratic search takes minutes.
      const { result, processorMs } = timed(() => median(values))
      expect(result).toBe((sorted[n / 2 - 1] + sorted[n / 2]) / 2)
      expect(processorMs).toBeLessThan(2000)
    }
  })

  it('refuses a rank that is not there', () => {
    expect(() => selectInPlace(Float64Array.of(1, 2), 2)).toThrow(RangeError)
    expect(() => selectInPlace(Float64Array.of(1, 2), 0, 1)).toThrow(RangeError)
    expect(() => median(new Float64Array(0))).toThrow(RangeError)
  })
})
