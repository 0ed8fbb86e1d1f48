import { describe, expect, test } from 'vitest'
import { StillStand, stillnessOf, STILL_LIMIT_MS2 } from '../../dashboard/lib/still-stand.ts'
import type { StandEvent } from '../../dashboard/lib/still-stand.ts'

const STILL = 0.5 * STILL_LIMIT_MS2
const A_LITTLE = 1.5 * STILL_LIMIT_MS2
const TOO_MUCH = 3 * STILL_LIMIT_MS2

/** Feeds ten windows a second from the stand's beginning at 5 s; sway by seconds since then. */
function stand(forS: number, swayAt: (s: number) => number, coverageAt: (s: number) => number = () => 1) {
  const still = new StillStand(5)
  const events: StandEvent[] = []
  for (let k = 1; k <= Math.round(forS * 10); k++) {
    const [endS, s] = [5 + k / 10, k / 10]
    const event = still.take({ endS, state: 'waiting', swayMs2: swayAt(s), coverage: coverageAt(s) })
    if (event) events.push(event)
  }
  return { still, events }
}

describe('quiet stand', () => {
  test('ends after 10 s of stillness', () => {
    const { still, events } = stand(12, () => STILL)
    expect(events).toHaveLength(1)
    expect(events[0]).toMatchObject({ type: 'end' })
    // Within one window of 0.1 s.
    expect((events[0] as { atS: number }).atS).toBeCloseTo(15, 1)
    expect(still.done).toBe(true)
  })

  test('begins anew when the dog moves, and says where the new stand starts', () => {
    const { events } = stand(16, (s) => (s > 4 && s <= 5 ? TOO_MUCH : STILL))
    expect(events.map(({ type }) => type)).toEqual(['moved', 'start', 'end'])
    expect((events[1] as { atS: number }).atS).toBeCloseTo(10.1, 6)
    expect((events[2] as { atS: number }).atS).toBeCloseTo(20.1, 1)
  })

  test('waits while the dog moves a little, and counts on after it', () => {
    const { events } = stand(13, (s) => (s > 4 && s <= 6 ? A_LITTLE : STILL))
    expect(events.map(({ type }) => type)).toEqual(['end'])
    expect((events[0] as { atS: number }).atS).toBeCloseTo(17, 1)
  })

  test('begins anew when a little too much goes on for more than 3 s', () => {
    const { still, events } = stand(8, (s) => (s > 2 ? A_LITTLE : STILL))
    expect(events.map(({ type }) => type)).toEqual(['moved'])
    expect(still.countedS).toBe(0)
  })

  test('is not counted through missing samples: silence is not stillness', () => {
    const { still, events } = stand(
      9,
      () => STILL,
      (s) => (s > 3 ? 0.5 : 1),
    )
    expect(events.map(({ type }) => type)).toEqual(['moved'])
    expect(still.countedS).toBe(0)
  })

  test('a window from before the button was pressed does not count', () => {
    const still = new StillStand(5)
    still.take({ endS: 4.9, state: 'waiting', swayMs2: STILL, coverage: 1 })
    expect(still.countedS).toBe(0)
  })
})

describe('stillness', () => {
  test('has a word on either side of its limits', () => {
    const words = (swayMs2: number | null) => stillnessOf({ state: 'waiting', swayMs2, coverage: 1 })
    expect(words(STILL_LIMIT_MS2)).toBe('still enough')
    expect(words(STILL_LIMIT_MS2 * 1.01)).toBe('a little too much')
    expect(words(STILL_LIMIT_MS2 * 2.01)).toBe('too much')
    expect(words(null)).toBe('no signal')
    expect(stillnessOf(null)).toBe('no signal')
  })
})
