import { describe, expect, test } from 'vitest'
import type { DiaryEntry } from '#protocol/diary'
import { weekWords } from '../../dashboard/lib/day-words.ts'
import {
  diaryWeeks,
  entryDraft,
  entryOf,
  isFarAhead,
  medicationOn,
  spanWords,
} from '../../dashboard/lib/diary-weeks.ts'
import { anySession } from './fakes/records.ts'

const entry = (changes: Partial<DiaryEntry> = {}): DiaryEntry => ({
  id: 'e',
  dogId: 'd',
  kind: 'medication',
  fromDate: '2026-03-02',
  untilDate: null,
  title: 'joint tablet',
  dose: 'half a tablet',
  note: null,
  version: 1,
  createdAt: '2026-03-02T08:00:00Z',
  updatedAt: '2026-03-02T08:00:00Z',
  ...changes,
})
const session = (startedAt: string | null, id = startedAt ?? 'undated') => ({
  ...anySession(),
  id,
  startedAt,
})

describe('the time line', () => {
  test('has sessions and entries by weeks from Monday, newest first, and nothing before its oldest day', () => {
    const weeks = diaryWeeks(
      [
        session('2026-03-08T23:30:00Z'),
        session('2026-03-02T08:00:00Z'),
        session('2026-02-01T08:00:00Z'),
        session(null),
      ],
      [entry({ fromDate: '2026-03-04' })],
      'UTC',
      '2026-02-16',
    )
    expect(weeks.map(({ monday, lines }) => [monday, lines.map(({ day }) => day)])).toEqual([
      ['2026-03-02', ['2026-03-08', '2026-03-04', '2026-03-02']],
    ])
    // The same Sunday evening is Monday in Nepal.
    const east = diaryWeeks([session('2026-03-08T23:30:00Z')], [], 'Asia/Kathmandu', '2026-02-16')
    expect(east.map(({ monday }) => monday)).toEqual(['2026-03-09'])
  })
})

describe('entries', () => {
  test('lie far ahead when a day of theirs is more than a year after today', () => {
    const far = (fromDate: string, untilDate = '') =>
      isFarAhead({ ...entryDraft(null, '2026-03-02'), fromDate, untilDate }, '2026-03-02')
    expect([far('2027-03-02'), far('2026-03-02', '2027-03-02'), far('2019-03-02')]).toEqual([
      false,
      false,
      false,
    ])
    expect([far('2027-03-03'), far('2026-03-02', '2062-03-02'), far('12026-03-02')]).toEqual([
      true,
      true,
      true,
    ])
  })

  test('stand under weeks that name the year where it is not the present one', () => {
    expect(weekWords('2026-03-02', '2026-11-25')).not.toMatch(/2026/)
    expect(weekWords('2025-03-03', '2026-11-25')).toMatch(/2025.*2025/)
    expect(weekWords('2025-12-29', '2026-01-02')).toMatch(/2025.*2026/)
  })

  test('medication is given from its first to its last day, or goes on', () => {
    const list = [
      entry(),
      entry({ id: 'ended', untilDate: '2026-03-04' }),
      entry({ id: 'note', kind: 'note' }),
      entry({ id: 'later', fromDate: '2026-03-10' }),
    ]
    const on = (day: string) => medicationOn(list, day).map(({ id }) => id)
    expect(on('2026-03-04')).toEqual(['e', 'ended'])
    expect(on('2026-03-05')).toEqual(['e'])
    expect(on('2026-03-01')).toEqual([])
    expect(on('2026-03-10')).toEqual(['later', 'e'])
  })

  test('come out of the form as they went in; only medication has a dose', () => {
    const { kind, fromDate, untilDate, title, dose, note } = entry({ note: 'with food' })
    const whole = { kind, fromDate, untilDate, title, dose, note }
    expect(entryOf(entryDraft(entry({ note: 'with food' }), '2026-03-05'))).toEqual(whole)
    expect(entryOf({ ...entryDraft(entry(), '2026-03-05'), kind: 'event', title: ' fell ' })).toMatchObject({
      kind: 'event',
      title: 'fell',
      dose: null,
    })
    expect(entryDraft(null, '2026-03-05')).toMatchObject({
      kind: 'note',
      fromDate: '2026-03-05',
      untilDate: '',
    })
  })

  test('say their days', () => {
    expect(spanWords(entry())).toMatch(/^from .* on$/)
    expect(spanWords(entry({ untilDate: '2026-03-04' }))).toContain(' – ')
    expect(spanWords(entry({ kind: 'event' }))).not.toMatch(/from|–/)
  })
})
