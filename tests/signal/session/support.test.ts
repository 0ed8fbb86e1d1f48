import { describe, expect, it } from 'vitest'
import { handsOffWithin, knownWithin, supportOf, totalS } from '#signal/session/support'
import type { Mark } from '#signal/trace/trace'

const on = (atS: number): Mark => ({ atS, kind: 'support-on' })
const off = (atS: number): Mark => ({ atS, kind: 'support-off' })

describe('supportOf', () => {
  it('knows nothing without support marks', () => {
    const support = supportOf([{ atS: 3, kind: 'note' }], 60)
    expect(support).toMatchObject({ known: false, handsOff: [] })
  })

  it('knows nothing before the first mark, and hands off only between off and on', () => {
    const support = supportOf([off(10), on(15), off(20), on(30)], 60)
    expect(support).toEqual({
      known: true,
      knownFromS: 10,
      handsOff: [
        { fromS: 10, toS: 15 },
        { fromS: 20, toS: 30 },
      ],
    })
  })

  it('takes hands off to last to the end when nobody put them on again', () => {
    expect(supportOf([on(5), off(20)], 60).handsOff).toEqual([{ fromS: 20, toS: 60 }])
    expect(supportOf([off(70)], 60).handsOff).toEqual([])
  })

  it('takes a mark said twice once, and marks at one instant for no time', () => {
    expect(supportOf([off(10), off(12), on(15), on(16)], 60).handsOff).toEqual([{ fromS: 10, toS: 15 }])
    expect(supportOf([off(10), on(10)], 60)).toMatchObject({ known: true, handsOff: [] })
  })
})

describe('handsOffWithin', () => {
  it('cuts the hands-off spans to the hold', () => {
    const support = supportOf([off(10), on(15), off(20), on(30)], 60)
    const parts = handsOffWithin(support, { fromS: 12, toS: 25 })
    expect(parts).toEqual([
      { fromS: 12, toS: 15 },
      { fromS: 20, toS: 25 },
    ])
    expect(totalS(parts)).toBe(8)
    expect(handsOffWithin(support, { fromS: 15, toS: 20 })).toEqual([])
  })
})

describe('knownWithin', () => {
  const support = supportOf([on(10), off(20)], 60)

  it('is nothing before the first mark, and the rest of a hold that it falls into', () => {
    expect(knownWithin(support, { fromS: 2, toS: 10 })).toBeNull()
    expect(knownWithin(support, { fromS: 8, toS: 14 })).toEqual({ fromS: 10, toS: 14 })
    expect(knownWithin(support, { fromS: 30, toS: 35 })).toEqual({ fromS: 30, toS: 35 })
  })

  it('is nothing at all without marks', () => {
    expect(knownWithin(supportOf([], 60), { fromS: 0, toS: 60 })).toBeNull()
  })
})
