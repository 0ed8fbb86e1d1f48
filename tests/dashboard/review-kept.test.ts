import { beforeEach, describe, expect, test } from 'vitest'
import { shownRows } from '../../dashboard/lib/review/shown-rows.ts'
import { unsavedNotes } from '../../dashboard/lib/review/unsaved-notes.ts'
import { UnsavedEditsStore } from '../../dashboard/lib/review/unsaved-edits.ts'
import { forgetUnsaved } from '../../dashboard/lib/review/unsaved-store.ts'
import { endOf } from '../../dashboard/lib/wording.ts'
import { timelineRows } from '../../dashboard/lib/timeline-table.ts'
import { anyHold } from './fakes/records.ts'

const EMPTY = { marks: [], holds: [] }

beforeEach(() => localStorage.clear())

describe('what is kept of unsaved notes', () => {
  test('is offered to other pages on this session, oldest first, never to the page that wrote it', () => {
    const own = unsavedNotes('s', 'p1', localStorage)
    expect(own.put({ text: 'mine', at: '2026-03-01T10:00:00Z' })).toBe(true)
    unsavedNotes('s', 'p0', localStorage).put({ text: 'before', at: '2026-03-01T09:00:00Z' })
    unsavedNotes('other', 'p1', localStorage).put({ text: 'elsewhere', at: '2026-03-01T08:00:00Z' })
    expect(own.left().map(({ text }) => text)).toEqual(['before'])
    const next = unsavedNotes('s', 'p2', localStorage)
    expect(next.left().map(({ text }) => text)).toEqual(['before', 'mine'])
    next.forgetLeft()
    expect(unsavedNotes('s', 'p3', localStorage).left()).toEqual([])
    expect(unsavedNotes('other', 'p3', localStorage).left()).toHaveLength(1)
  })

  test('is nothing where the words were cut off, are of another kind, or nothing may be kept', () => {
    localStorage.setItem('swaybook.unsaved-notes.s.a', '{"text": "cut')
    localStorage.setItem('swaybook.unsaved-notes.s.b', '{"text": 7, "at": "2026-03-01T09:00:00Z"}')
    localStorage.setItem('swaybook.unsaved-notes.s.c', '{"text": "no time"}')
    localStorage.setItem('swaybook.unsaved-notes.s.d', 'null')
    expect(unsavedNotes('s', 'p', localStorage).left()).toEqual([])
    expect(unsavedNotes('s', 'p', null).put({ text: 'x', at: '2026-03-01T09:00:00Z' })).toBe(false)
  })

  test('goes with the session that is deleted, as unsaved edits do; other sessions keep theirs', () => {
    unsavedNotes('s', 'p', localStorage).put({ text: 'x', at: '2026-03-01T09:00:00Z' })
    new UnsavedEditsStore('s', 'p', localStorage).keep(EMPTY, EMPTY, 0)
    new UnsavedEditsStore('t', 'p', localStorage).keep(EMPTY, EMPTY, 0)
    forgetUnsaved('s', localStorage)
    expect(Object.keys(localStorage)).toEqual(['swaybook.unsaved-edits.t.p'])
  })
})

describe('a long table', () => {
  test('shows its first rows and the chosen one until all are asked for', () => {
    expect(shownRows(14, false)).toHaveLength(14)
    expect(shownRows(60, false)).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8, 9])
    expect(shownRows(60, false, 40).at(-1)).toBe(40)
    expect(shownRows(60, false, 3)).toHaveLength(10)
    expect(shownRows(60, true, 40)).toHaveLength(60)
    expect(shownRows(0, false, -1)).toEqual([])
  })
})

describe('a hold a person set', () => {
  test('ended because a person said so, unless it ends where something ended the hold found there', () => {
    expect(endOf({ endedBy: 'interval', setBy: 'person' })).toBe('set by a person')
    expect(endOf({ endedBy: 'step', setBy: 'person' })).toBe('a step')
    expect(endOf({ endedBy: 'interval' })).toBe('end of the chosen interval')
  })

  test('is called so in the table of the timeline', () => {
    const course = { stepS: 1, swayMs2: [], tremorMs2: [] }
    const timeline = { durationS: 50, gaps: [], marks: [], course } as unknown as Parameters<
      typeof timelineRows
    >[0]
    const events = (setBy?: 'person') =>
      timelineRows(timeline, [{ ...anyHold(), ...(setBy && { setBy }) }]).flatMap((row) => row.events)
    expect(events()).toEqual(['hold 1 begins', 'hold 1 ends'])
    expect(events('person')).toEqual(['hold 1 begins (set by a person)', 'hold 1 ends (set by a person)'])
  })
})
