import { describe, expect, it } from 'vitest'
import { COMMON_PRACTICE_STOP_LIMITS } from '#signal/live/stop-limits'
import { planWarnings } from '#signal/session/plan-warnings'
import { groupRepetitions } from '#signal/session/repetitions'
import { madeHold } from './made-holds.ts'

const LIMITS = { ...COMMON_PRACTICE_STOP_LIMITS, basis: 'the plan' }

/** Warnings for repetitions of one hold each, 20 s apart. */
function warnings(
  holds: readonly { lengthS?: number; swayMs2?: number; handsOffS?: number | null }[],
  { durationS = 200, limits = LIMITS } = {},
): string[] {
  const made = holds.map(({ lengthS = 8, ...rest }, i) => madeHold(20 * i, 20 * i + lengthS, rest))
  return planWarnings(durationS, made, groupRepetitions(made, [], durationS).repetitions, limits)
}

describe('planWarnings', () => {
  it('says nothing within the limits', () => {
    expect(warnings([{}, { swayMs2: 0.149 }, { lengthS: 4 }], { durationS: 300 })).toEqual([])
    expect(warnings([])).toEqual([])
  })

  it('names a recording longer than the session may be', () => {
    expect(warnings([], { durationS: 301 })).toEqual([
      'The recording lasted 5:01, the limit is 5:00 (the plan).',
    ])
    expect(warnings([], { durationS: 100, limits: { ...LIMITS, sessionCapS: 60 } })).toHaveLength(1)
  })

  it('names more repetitions than the plan allows', () => {
    expect(warnings([{}, {}, {}, {}, {}])).toEqual([])
    expect(warnings([{}, {}, {}, {}, {}, {}])).toEqual(['6 repetitions, the limit is 5 (the plan).'])
  })

  it('names when sway passed its multiple of the first repetition', () => {
    const [warning, ...rest] = warnings([{}, {}, {}, {}, { swayMs2: 0.18 }])
    expect(warning).toBe(
      'From 1:20 the dog swayed 1.8 times as much as in the first repetition; the sign to stop is 1.5 times (the plan).',
    )
    expect(rest).toEqual([])
  })

  it('names when the best hold fell below its share of the first', () => {
    const [warning, ...rest] = warnings([{ lengthS: 10 }, { lengthS: 5 }, { lengthS: 4 }])
    expect(warning).toMatch(
      /^From 0:40 the best hold was 4.0 s, less than 50 % of the first repetition's 10.0 s/,
    )
    expect(rest).toEqual([])
  })

  it('names support that rose by more than a quarter of the hold time', () => {
    expect(warnings([{ handsOffS: 8 }, { handsOffS: 6.1 }])).toEqual([])
    const [warning] = warnings([{ handsOffS: 8 }, { handsOffS: 4 }])
    expect(warning).toMatch(/needed hands on it for 50 percentage points more/)
    expect(warnings([{ handsOffS: null }, { handsOffS: 0 }])).toEqual([])
  })

  it('leaves out the limits that a plan leaves out', () => {
    const none = {
      sessionCapS: null,
      maxRepetitions: null,
      swayRatio: null,
      holdRatio: null,
      supportRise: null,
    }
    const holds = [{ lengthS: 10, handsOffS: 10 }, { lengthS: 2, swayMs2: 0.5, handsOffS: 0 }, {}, {}, {}, {}]
    const all = { durationS: 500 }
    expect(warnings(holds, all)).toHaveLength(4)
    for (const limit of Object.keys(none)) {
      const without = warnings(holds, { ...all, limits: { ...LIMITS, [limit]: null } })
      expect(without.length, limit).toBe(limit === 'supportRise' ? 4 : 3)
    }
    expect(warnings(holds, { ...all, limits: { ...none, basis: 'the plan' } })).toEqual([])
  })

  it('says whose limits they are, and never to do more', () => {
    const all = warnings(
      [{ lengthS: 10, handsOffS: 10 }, { lengthS: 2, swayMs2: 0.5, handsOffS: 0 }, {}, {}, {}, {}],
      {
        durationS: 500,
        limits: COMMON_PRACTICE_STOP_LIMITS,
      },
    )
    expect(all.length).toBeGreaterThanOrEqual(4)
    for (const sentence of all) {
      expect(sentence).toContain('common practice, no plan given')
      expect(sentence).not.toMatch(/progress|increase|harder|can do more/i)
    }
  })
})
