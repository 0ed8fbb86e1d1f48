import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { minMaxBuckets } from '../../dashboard/lib/downsample.ts'

describe('min-max buckets', () => {
  test('hold the smallest and largest value of each bucket', () => {
    expect(minMaxBuckets([1, 5, -2, 3], 2)).toEqual({ min: [1, -2], max: [5, 3] })
  })

  test('a bucket without finite values is null', () => {
    expect(minMaxBuckets([NaN, null, 1, 2], 2)).toEqual({ min: [null, 1], max: [null, 2] })
  })

  test('fewer values than buckets stay as they are', () => {
    expect(minMaxBuckets([3, 4], 10)).toEqual({ min: [3, 4], max: [3, 4] })
  })

  test('no spike is lost and none invented, for any values and any width', () => {
    const finite = fc.double({ noNaN: true, noDefaultInfinity: true })
    fc.assert(
      fc.property(
        fc.array(finite, { minLength: 1, maxLength: 300 }),
        fc.integer({ min: 1, max: 80 }),
        (values, n) => {
          const { min, max } = minMaxBuckets(values, n)
          expect(Math.min(...(min as number[]))).toBe(Math.min(...values))
          expect(Math.max(...(max as number[]))).toBe(Math.max(...values))
        },
      ),
      { seed: 20 },
    )
  })
})
