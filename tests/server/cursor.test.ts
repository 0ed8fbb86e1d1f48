import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { Cursor } from '#server/ingest/cursor'

describe('Cursor', () => {
  it('takes samples that follow on', () => {
    const cursor = new Cursor(0)
    expect(cursor.take(0, 10)).toEqual({ kind: 'take', skip: 0 })
    expect(cursor.take(10, 5)).toEqual({ kind: 'take', skip: 0 })
    expect(cursor.nextIndex).toBe(15)
  })

  it('names the first missing index of a gap and does not move past it', () => {
    const cursor = new Cursor(20)
    expect(cursor.take(30, 10)).toEqual({ kind: 'gap', missingIndex: 20 })
    expect(cursor.nextIndex).toBe(20)
  })

  it('ignores what it has and takes the rest of an overlap', () => {
    const cursor = new Cursor(20)
    expect(cursor.take(10, 10)).toEqual({ kind: 'duplicate' })
    expect(cursor.take(15, 10)).toEqual({ kind: 'take', skip: 5 })
    expect(cursor.nextIndex).toBe(25)
  })

  it('confirms only what was received, and never backwards', () => {
    const cursor = new Cursor(0)
    cursor.take(0, 30)
    cursor.confirm(20)
    cursor.confirm(10)
    expect(cursor.durableIndex).toBe(20)
    expect(() => cursor.confirm(31)).toThrow('confirm requires index <= 30 (received), got 31')
  })

  it('takes every sample exactly once, however frames are cut, repeated and reordered', () => {
    const frames = fc.array(fc.record({ firstIndex: fc.nat(100), count: fc.integer({ min: 1, max: 30 }) }), {
      maxLength: 200,
    })
    fc.assert(
      fc.property(frames, (frames) => {
        const cursor = new Cursor(0)
        const taken: number[] = []
        for (const { firstIndex, count } of frames) {
          const step = cursor.take(firstIndex, count)
          if (step.kind !== 'take') continue
          for (let i = firstIndex + step.skip; i < firstIndex + count; i++) taken.push(i)
        }
        expect(taken).toEqual(Array.from({ length: cursor.nextIndex }, (_, i) => i))
      }),
      { seed: 1 },
    )
  })
})
