import { describe, expect, test } from 'vitest'
import type { LiveStop } from '#signal/live/live-types'
import { stopWords } from '../../dashboard/lib/stop-words.ts'

const stops: LiveStop[] = [
  { reason: 'session-cap', atS: 300, value: 300, limit: 300 },
  { reason: 'repetitions', atS: 200, value: 4, limit: 3 },
  { reason: 'sway', atS: 100, value: 1.62, limit: 1.5 },
  { reason: 'short-hold', atS: 100, value: 0.4, limit: 0.5 },
  { reason: 'support', atS: 100, value: 0.31, limit: 0.25 },
]

describe('words of a stop cue', () => {
  test('give what was measured, the limit and where it comes from', () => {
    const words = stops.map((stop) => stopWords(stop, { basis: 'plan version 2' }))
    expect(words.map(({ reason }) => reason)).toEqual([
      'The session is 5:00 long; the limit is 5:00.',
      'Repetition 4 has begun; the limit is 3.',
      'This hold sways 1.6 times as much as the first; the limit is 1.5.',
      'The last hold was 40 % as long as the first; the limit is 50 %.',
      'Hands are on 31 percentage points more than at first; the limit is 25.',
    ])
    expect(new Set(words.map(({ basis }) => basis))).toEqual(new Set(['Limit: plan version 2.']))
  })

  test('a limit that was just passed does not read as one that was met', () => {
    const just = stopWords({ reason: 'sway', atS: 100, value: 1.512, limit: 1.5 }, null)
    expect(just.reason).toContain('sways 1.512 times')
  })

  test('never tell that all is well or to do more', () => {
    for (const stop of stops) {
      const { reason, basis } = stopWords(stop, null)
      expect(`${reason} ${basis}`).not.toMatch(/fine|good|safe|normal|more repetitions|longer hold/i)
    }
  })
})
