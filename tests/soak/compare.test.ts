import { describe, expect, it } from 'vitest'
import { CHANNELS } from '../bench/live/waveform.ts'
import { Comparison } from './compare.ts'
import { joined, lostRanges } from './sensor.ts'
import { truthOf } from './truth.ts'

const TOTAL = 30_000

/** What a faithful server gives back of a recording, as [index, values]. */
function takenBy(slot: number): [number, number[]][] {
  const key = { seed: 5, slot, number: 1 }
  const truth = truthOf(key)
  const lost = new Set(
    lostRanges(key, TOTAL).flatMap(({ firstIndex, count }) =>
      Array.from({ length: count }, (_, i) => firstIndex + i),
    ),
  )
  const indices = Array.from({ length: TOTAL }, (_, i) => i).filter((i) => !lost.has(i))
  return indices.map((i) => [i, Array.from({ length: CHANNELS }, (_, c) => truth(c, i))])
}

const SLOTS = { float32: 0, int16: 3 }

describe.each(Object.entries(SLOTS))('the comparison of a recording in %s', (_, slot) => {
  const rows = takenBy(slot)
  const taken = rows.length
  const compare = (given: readonly [number, number[]][], byIndex: boolean) => {
    const comparison = new Comparison({ seed: 5, slot, number: 1 }, TOTAL)
    for (const [index, values] of given) {
      if (byIndex) comparison.atIndex(index, values)
      else comparison.next(values)
    }
    return comparison.result()
  }
  const clean = { exact: taken, lost: 0, doubled: 0, disordered: 0, unknown: 0 }

  it('loses something on the radio, so that gaps are looked at', () => {
    expect(taken).toBeLessThan(TOTAL)
    expect(taken).toBeGreaterThan(0.9 * TOTAL)
  })

  describe.each([
    ['by its values', false],
    ['by its index', true],
  ])('%s', (_, byIndex) => {
    it('finds nothing in what a faithful server gives back', () => {
      expect(compare(rows, byIndex)).toEqual(clean)
    })

    it('sees one sample that is missing, in the middle and at the end', () => {
      const expected = { ...clean, exact: taken - 1, lost: 1 }
      expect(compare(rows.toSpliced(7000, 1), byIndex)).toEqual(expected)
      expect(compare(rows.slice(0, -1), byIndex)).toEqual(expected)
    })

    it('sees a packet that came twice', () => {
      const twice = rows.toSpliced(500, 0, ...rows.slice(490, 500))
      expect(compare(twice, byIndex)).toEqual({ ...clean, doubled: 10 })
    })

    it('sees two samples that changed places', () => {
      const swapped = rows.toSpliced(800, 2, rows[801], rows[800])
      expect(compare(swapped, byIndex)).toEqual({ ...clean, exact: taken - 1, disordered: 1 })
    })

    it('sees the last bit of one value changed', () => {
      const changed = structuredClone(rows)
      const [, values] = changed[1234]
      values[4] = slot === SLOTS.float32 ? nextFloat32(values[4]) : values[4] * (1 + Number.EPSILON)
      expect(compare(changed, byIndex)).toEqual({ ...clean, exact: taken - 1, lost: 1, unknown: 1 })
    })

    it('sees a sample of another sensor', () => {
      const foreign = rows.toSpliced(100, 0, [rows[100][0], takenBy(slot + 4)[50][1]])
      expect(compare(foreign, byIndex)).toMatchObject({ lost: 0, unknown: 1 })
    })
  })
})

it('joins ranges that touch and no others', () => {
  const ranges = [
    { firstIndex: 0, count: 10 },
    { firstIndex: 10, count: 5 },
    { firstIndex: 16, count: 1 },
  ]
  expect(joined(ranges)).toEqual([
    { firstIndex: 0, count: 15 },
    { firstIndex: 16, count: 1 },
  ])
})

function nextFloat32(value: number): number {
  const bits = new Int32Array(1)
  const float = new Float32Array(bits.buffer)
  float[0] = value
  bits[0]++
  return float[0]
}
