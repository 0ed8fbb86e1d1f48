import { beforeEach, describe, expect, test } from 'vitest'
import { onItsOwnS } from '../../dashboard/lib/hands-off-clock.ts'
import { holdTargetOf, rememberedHoldTargetS, rememberHoldTargetS } from '../../dashboard/lib/hold-target.ts'

beforeEach(() => localStorage.clear())

describe('hold target', () => {
  test('there is none until somebody types one', () => {
    expect(rememberedHoldTargetS('juniper')).toBeNull()
    for (const nothing of ['', ' ', null, undefined, 0, -3, 61, NaN, 'x'])
      expect(holdTargetOf(nothing)).toBeNull()
  })

  test('is remembered for its dog only, and forgotten when emptied', () => {
    rememberHoldTargetS('juniper', 8)
    expect(rememberedHoldTargetS('juniper')).toBe(8)
    expect(rememberedHoldTargetS('sorrel')).toBeNull()
    rememberHoldTargetS('juniper', null)
    expect(rememberedHoldTargetS('juniper')).toBeNull()
  })
})

describe('time on its own', () => {
  const off = (atS: number) => ({ atS, kind: 'support-off' as const })
  const on = (atS: number) => ({ atS, kind: 'support-on' as const })

  test('is not known before anybody marks hands', () => {
    expect(onItsOwnS([{ atS: 1, kind: 'repetition-start' }], 5, 20)).toBeNull()
  })

  test('counts the hands-off seconds of the current hold, not those with hands on', () => {
    // The hold lasts from 10 to 20 s: hands-off 12 to 15 and from 18 on.
    expect(onItsOwnS([on(2), off(12), on(15), off(18)], 10, 20)).toBeCloseTo(5, 9)
    expect(onItsOwnS([off(2), on(9)], 10, 20)).toBe(0)
    expect(onItsOwnS([off(2)], 10, 20)).toBeCloseTo(10, 9)
  })
})
