import { describe, expect, test } from 'vitest'
import { SampleRing } from '../../dashboard/lib/ring.ts'

const contents = (ring: SampleRing, c = 0) =>
  Array.from({ length: ring.end - ring.start }, (_, k) => ring.at(c, ring.start + k))

describe('sample ring', () => {
  test('keeps the newest samples of every channel', () => {
    const ring = new SampleRing(4, 2)
    ring.write(0, [
      [1, 2, 3],
      [10, 20, 30],
    ])
    ring.write(3, [
      [4, 5],
      [40, 50],
    ])
    expect(contents(ring)).toEqual([2, 3, 4, 5])
    expect(contents(ring, 1)).toEqual([20, 30, 40, 50])
  })

  test('a jump of the index leaves missing values between', () => {
    const ring = new SampleRing(6, 1)
    ring.write(0, [[1, 2]])
    ring.write(4, [[5, 6]])
    expect(contents(ring)).toEqual([1, 2, NaN, NaN, 5, 6])
  })

  test('a jump longer than the ring forgets everything older', () => {
    const ring = new SampleRing(4, 1)
    ring.write(0, [[1, 2, 3, 4]])
    ring.write(100, [[7]])
    expect(contents(ring)).toEqual([NaN, NaN, NaN, 7])
  })

  test('a block sent twice changes nothing', () => {
    const ring = new SampleRing(4, 1)
    ring.write(0, [[1, 2, 3]])
    ring.write(1, [[2, 3]])
    expect(contents(ring)).toEqual([1, 2, 3])
  })

  test('a block longer than the ring keeps its end', () => {
    const ring = new SampleRing(3, 1)
    ring.write(0, [[1, 2, 3, 4, 5]])
    expect(contents(ring)).toEqual([3, 4, 5])
  })

  test('a ring that starts late holds nothing before its first sample', () => {
    const ring = new SampleRing(10, 1)
    ring.write(50, [[1, 2]])
    expect(ring.start).toBe(50)
    expect(ring.at(0, 49)).toBeNaN()
    expect(contents(ring)).toEqual([1, 2])
  })

  test('cleared, it is empty', () => {
    const ring = new SampleRing(3, 1)
    ring.write(5, [[1]])
    ring.clear()
    expect(ring.end).toBe(0)
    expect(ring.at(0, 5)).toBeNaN()
  })
})
