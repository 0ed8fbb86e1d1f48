import { describe, expect, it } from 'vitest'
import { findReference } from '#signal/hold/reference'
import { findHolds } from '#signal/session/find-holds'
import { LIVELY, STILL, ticksFrom, tilted } from './made-ticks.ts'
import type { Motion, Part } from './made-ticks.ts'

const STAND: Part = { lengthS: 12, motion: STILL }
const MOVE: Part = { lengthS: 3, motion: LIVELY }

/** Holds of a recording that opens with a stand of 12 s and 3 s of motion, times after those 15 s. */
function holdsAfter(parts: readonly Part[], rateHz = 100) {
  const { ticks, endS } = ticksFrom([STAND, MOVE, ...parts], rateHz)
  const reference = findReference(ticks, [
    { atS: 1, kind: 'quiet-stand-start' },
    { atS: 11, kind: 'quiet-stand-end' },
  ])!
  return findHolds(ticks, reference, endS)
    .filter(({ fromS }) => fromS > 12)
    .map(({ fromS, toS, endedBy }) => ({ fromS: fromS - 15, toS: toS - 15, endedBy }))
}

const near = (fromS: number, toS: number, endedBy: string) => ({
  fromS: expect.toSatisfy((t: number) => Math.abs(t - fromS) <= 0.2001, `within 0.2 s of ${fromS}`),
  toS: expect.toSatisfy((t: number) => Math.abs(t - toS) <= 0.2001, `within 0.2 s of ${toS}`),
  endedBy,
})

describe('hold detection', () => {
  it.each([25, 50, 100, 200])('finds a still stand between two movements at %i Hz', (rateHz) => {
    expect(holdsAfter([{ lengthS: 6, motion: STILL }, MOVE], rateHz)).toEqual([near(0, 6, 'step')])
  })

  it('ends a hold exactly at the end of the recording', () => {
    expect(holdsAfter([{ lengthS: 4.57, motion: STILL }])).toEqual([
      { ...near(0, 4.57, 'end of recording'), toS: expect.closeTo(4.57, 9) },
    ])
  })

  it('keeps stands of more than a second and drops shorter ones', () => {
    expect(holdsAfter([{ lengthS: 1.8, motion: STILL }, MOVE])).toHaveLength(1)
    expect(holdsAfter([{ lengthS: 0.8, motion: STILL }, MOVE])).toHaveLength(0)
  })

  it('does not take a still dog tilted by more than 15° for standing', () => {
    expect(holdsAfter([{ lengthS: 8, motion: tilted(20) }, MOVE])).toEqual([])
    expect(holdsAfter([{ lengthS: 8, motion: tilted(12) }, MOVE])).toHaveLength(1)
  })

  it('calls a hold broken by a tilt when the trunk turns away slowly', () => {
    const sitting: Motion = (tS) => tilted(Math.min(30, Math.max(0, (tS - 21) * 15)))(tS)
    const [hold] = holdsAfter([{ lengthS: 12, motion: sitting }, MOVE])
    expect(hold.endedBy).toBe('tilt')
    // 15° at 15° per second from second 6 on, and what the dog did before was standing.
    expect(hold.toS).toBeGreaterThan(5.5)
    expect(hold.toS).toBeLessThan(7.2)
  })

  it('bridges 0.2 s of lost signal and ends a hold at 0.4 s', () => {
    const lost = (lengthS: number) =>
      holdsAfter([
        { lengthS: 4, motion: STILL },
        { lengthS, motion: null },
        { lengthS: 5, motion: STILL },
        MOVE,
      ])
    expect(lost(0.2)).toEqual([near(0, 9.2, 'step')])
    expect(lost(0.4)).toEqual([near(0, 4, 'signal lost'), near(4.4, 9.4, 'step')])
  })

  it('never joins holds across lost signal, however short the pause', () => {
    const holds = holdsAfter([
      { lengthS: 4, motion: STILL },
      { lengthS: 0.28, motion: null },
      { lengthS: 5, motion: STILL },
    ])
    expect(holds.map(({ endedBy }) => endedBy)).toEqual(['signal lost', 'end of recording'])
  })

  it('splits a hold at a step of half a second', () => {
    const holds = holdsAfter([{ lengthS: 4, motion: STILL }, { lengthS: 0.6, motion: LIVELY }, { lengthS: 5, motion: STILL }]) // prettier-ignore
    expect(holds).toEqual([near(0, 4, 'step'), near(4.6, 9.6, 'end of recording')])
  })

  it('lets a dog pant or tremble all the while: steady fast motion of 0.3 m/s² breaks no hold', () => {
    const panting: Motion = (tS) => [0.42 * Math.sin(2 * Math.PI * 5 * tS), 0, 9.80665]
    expect(holdsAfter([{ lengthS: 8, motion: panting }, MOVE])).toHaveLength(1)
  })

  it('finds nothing in a dog that never stands still', () => {
    expect(holdsAfter([{ lengthS: 30, motion: LIVELY }])).toEqual([])
  })
})
