import { describe, expect, it } from 'vitest'
import { findReference, nextStandEndTick } from '#signal/hold/reference'
import type { Mark } from '#signal/trace/trace'
import { LIVELY, STILL, ticksFrom, tilted } from './made-ticks.ts'

const start = (atS: number): Mark => ({ atS, kind: 'quiet-stand-start' })
const end = (atS: number): Mark => ({ atS, kind: 'quiet-stand-end' })

describe('findReference', () => {
  const { ticks } = ticksFrom([
    { lengthS: 10, motion: STILL },
    { lengthS: 5, motion: LIVELY },
    { lengthS: 8, motion: tilted(30) },
    { lengthS: 5, motion: LIVELY },
    { lengthS: 12, motion: STILL },
  ])

  it('takes the last complete marked stand', () => {
    const marks = [start(1), end(6), start(29), end(38)]
    expect(findReference(ticks, marks)).toMatchObject({ fromS: 29, toS: 38, basis: 'quiet-stand marks' })
    // The last one has only 1 s: the one before counts.
    expect(findReference(ticks, [start(1), end(6), start(39), end(40)])).toMatchObject({ fromS: 1, toS: 6 })
  })

  it('takes a stand without an end to last 10 s', () => {
    expect(findReference(ticks, [start(28.5)])).toMatchObject({ fromS: 28.5, toS: 38.5 })
  })

  it('does not use a stand yet that ends after what has come', () => {
    const marks = [start(1), end(6), start(29), end(38)]
    expect(findReference(ticks, marks, 379)).toMatchObject({ fromS: 1 })
    expect(findReference(ticks, marks, 380)).toMatchObject({ fromS: 29 })
    expect(nextStandEndTick(marks, 100)).toBe(380)
    expect(nextStandEndTick(marks, 380)).toBe(Number.POSITIVE_INFINITY)
  })

  it('without marks takes the quietest 5 s of the posture kept longest, not the still sit', () => {
    const found = findReference(ticks, [])!
    expect(found.basis).toBe('quietest stretch')
    expect(found.toS - found.fromS).toBeCloseTo(5, 9)
    expect(Math.abs(found.gravity[0])).toBeLessThan(0.1)
    expect(found.gravity[2]).toBeCloseTo(9.80665, 1)
  })

  it('measures the stand: median sway of 2 s, motion of 1 s', () => {
    const made = ticksFrom([
      {
        lengthS: 20,
        motion: (t) => [0.2 * Math.sin(2 * Math.PI * t), 0, 9.80665 + 0.3 * Math.sin(2 * Math.PI * t)],
      },
    ])
    const { swayMs2, motionVariance } = findReference(made.ticks, [start(2), end(18)])!
    // Horizontal sway leaves the vertical sine out: 0.2/√2. Motion has both: (0.2² + 0.3²)/2.
    expect(swayMs2).toBeCloseTo(0.2 / Math.SQRT2, 2)
    expect(motionVariance).toBeCloseTo((0.2 ** 2 + 0.3 ** 2) / 2, 2)
  })

  it('finds none where nothing is quiet for 5 s, or most of it is missing', () => {
    expect(findReference(ticksFrom([{ lengthS: 20, motion: LIVELY }]).ticks, [])).toBeNull()
    const parts = Array.from({ length: 10 }, () => [
      { lengthS: 1, motion: STILL },
      { lengthS: 1, motion: null },
    ]).flat()
    expect(findReference(ticksFrom(parts).ticks, [])).toBeNull()
    expect(findReference(ticksFrom([{ lengthS: 4.9, motion: STILL }]).ticks, [])).toBeNull()
  })

  it('survives marks outside the recording', () => {
    expect(findReference(ticks, [start(-1e9), end(-5)])).toMatchObject({ basis: 'quietest stretch' })
    expect(findReference(ticks, [start(1e9), end(2e9)])).toMatchObject({ basis: 'quietest stretch' })
  })
})
