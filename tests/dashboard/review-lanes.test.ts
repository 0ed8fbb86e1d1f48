import { describe, expect, test } from 'vitest'
import type { SessionSummary } from '#protocol/resources'
import { comparedFigures, previousOf, sessionsLike } from '../../dashboard/lib/review/compare-sessions.ts'
import { handsSpans } from '../../dashboard/lib/review/hands-spans.ts'
import {
  itemUnder,
  placedAt,
  pxOf,
  secondsOf,
  stepOfKey,
  stepped,
} from '../../dashboard/lib/review/lane-geometry.ts'
import { laneItems } from '../../dashboard/lib/review/lane-items.ts'
import { lineThrough, noteWords, repetitionRows } from '../../dashboard/lib/review/repetition-rows.ts'
import { shownHolds } from '../../dashboard/lib/review/shown-holds.ts'
import { anySession } from './fakes/records.ts'

const EMPTY = { marks: [], holds: [] }
const wide = { range: { fromS: 0, toS: 100 }, widthPx: 1072 } // 10 px a second

describe('lanes', () => {
  const holds = shownHolds(
    [
      { fromS: 10, toS: 20, role: 'exercise' },
      { fromS: 22, toS: 24, role: 'exercise' },
    ],
    EMPTY,
    EMPTY,
  )
  const doc = { marks: [{ id: 'm', atS: 50, kind: 'note' as const, note: 'slipped' }], holds: [] }
  const items = laneItems(doc, holds)

  test('seconds and pixels are each other back', () => {
    for (const atS of [0, 12.34, 100]) expect(secondsOf(pxOf(atS, wide), wide)).toBeCloseTo(atS, 9)
  })

  test('a target is at least 24 px wide (WCAG 2.2, 2.5.8)', () => {
    const centre = pxOf(50, wide)
    expect(itemUnder(items, 'other', centre - 12, wide, null)?.markId).toBe('m')
    expect(itemUnder(items, 'other', centre + 12, wide, null)?.markId).toBe('m')
    expect(itemUnder(items, 'hands', centre, wide, null)).toBeNull()
  })

  test('a narrow hold is taken by its handles once it is chosen, and they do not overlap', () => {
    const narrow = holds[1].key
    expect(itemUnder(items, 'holds', pxOf(22, wide), wide, null)).toBeNull()
    expect(itemUnder(items, 'holds', pxOf(22, wide) - 20, wide, narrow)?.side).toBe('from')
    expect(itemUnder(items, 'holds', pxOf(24, wide) + 20, wide, narrow)?.side).toBe('to')
  })

  test('snapping takes a near time, else the tenth; without it the finest step counts', () => {
    const limits = { minS: 0, maxS: 100 }
    expect(placedAt(pxOf(30.44, wide), wide, limits, { toS: [31.0] })).toBe(31.0)
    expect(placedAt(pxOf(40.44, wide), wide, limits, { toS: [31.0] })).toBe(40.4)
    expect(placedAt(pxOf(40.43, wide), wide, limits, null)).toBe(40.44)
    expect(placedAt(pxOf(140, wide), wide, limits, null)).toBe(100)
  })

  test('keys step by 0.1, 1 and 0.02 s without piling up fractions', () => {
    const key = (name: string, more: object = {}) =>
      stepOfKey({ key: name, shiftKey: false, altKey: false, ...more })
    expect(key('ArrowRight')).toBe(0.1)
    expect(key('ArrowLeft', { shiftKey: true })).toBe(-1)
    expect(key('ArrowRight', { altKey: true })).toBe(0.02)
    expect(key(',')).toBe(-0.02)
    expect(key('a')).toBeNull()
    let atS = 0
    for (let k = 0; k < 1000; k++) atS = stepped(atS, 0.1, { minS: 0, maxS: 1000 })
    expect(atS).toBe(100)
  })

  test('hands are unknown before the first mark', () => {
    const marks = [
      { atS: 20, kind: 'support-on' },
      { atS: 5, kind: 'support-off' },
    ]
    expect(handsSpans(marks, 60)).toEqual([
      { fromS: 5, toS: 20, on: false },
      { fromS: 20, toS: 60, on: true },
    ])
  })
})

describe('beside an earlier session', () => {
  const at = (id: string, day: number, more: Partial<SessionSummary> = {}): SessionSummary => ({
    ...anySession(),
    id,
    startedAt: `2026-03-0${day}T10:00:00Z`,
    ...more,
  })
  const now = at('now', 5)

  test('only the same set-up and the same kind of sensor are compared; the one before comes first', () => {
    const others = [
      now,
      at('later', 7),
      at('before', 4),
      at('older', 2),
      at('phone', 4, { sensor: 'phone' }),
      at('played', 4, { sensor: 'simulated harness' }),
      at('rocker', 4, { setUp: { exercise: 'stand on foam pad', surface: 'rocker board' } }),
      at('failed', 4, { state: 'failed' }),
    ]
    const alike = sessionsLike(now, others)
    expect(alike.map(({ id }) => id)).toEqual(['later', 'before', 'older'])
    expect(previousOf(now, alike)?.id).toBe('before')
  })

  test('a difference is a percentage for sway and seconds for holds, beyond noise only outside its limits', () => {
    const before = at('before', 4, { comparableSwayMs2: 0.04, bestHoldS: 6 })
    const rows = comparedFigures(now, before, (measure) =>
      measure === 'swayRms' ? { fall: -4, rise: 5 } : measure === 'bestHoldS' ? { fall: -3, rise: 3 } : null,
    )
    const row = (measure: string) => rows.find((r) => r.measure === measure)!
    // 0.038 against 0.04 is −5 %; 8.4 s against 6 s is +2.4 s.
    expect(row('swayRms').difference).toBeCloseTo(-5, 9)
    expect(row('swayRms').beyondNoise).toBe(true)
    expect(row('bestHoldS').difference).toBeCloseTo(2.4, 9)
    expect(row('bestHoldS').beyondNoise).toBe(false)
    expect(row('tremorRms').beyondNoise).toBeNull()
  })
})

describe('repetitions', () => {
  test('notes stand beside the repetition their moment lies in', () => {
    const part = (fromS: number, toS: number) => ({ fromS, toS, holdS: 10, handsOffS: 5, swayRms: 0.04 })
    const note = {
      id: 'n',
      atS: 35,
      stance: 'square' as const,
      signs: ['panting' as const],
      note: 'looked up',
      version: 1,
      updatedAt: '',
    }
    const rows = repetitionRows([part(10, 20), part(30, 40)], [note])
    expect(rows.map(({ notes, handsOffShare }) => [notes.length, handsOffShare])).toEqual([
      [0, 0.5],
      [1, 0.5],
    ])
    expect(noteWords(note)).toBe('square; panting; looked up')
  })

  test('the line of a slope goes through the middle of the values', () => {
    expect(lineThrough([1, 2, 3], 1)).toBe(1)
    expect(lineThrough([1, 2, 30], 1)).toBe(1)
  })
})
