import { describe, expect, test } from 'vitest'
import { bySetUp, newestFirst } from '../../dashboard/lib/session-order.ts'
import { setUpWords } from '../../dashboard/lib/wording.ts'
import { anySession } from './fakes/records.ts'

const foam = { exercise: 'stand', surface: 'foam pad' }
const board = { exercise: 'stand', surface: 'rocker board' }

describe('sessions in order', () => {
  test('a session without a known start counts from the day it was added', () => {
    const sessions = [
      { ...anySession(), id: 'a', startedAt: null, createdAt: '2026-03-05T00:00:00Z' },
      { ...anySession(), id: 'b', startedAt: '2026-03-06T00:00:00Z' },
    ]
    expect(newestFirst(sessions).map((session) => session.id)).toEqual(['b', 'a'])
  })

  test('only like set-ups make one series, oldest first', () => {
    const sessions = [
      { ...anySession(), id: '3', setUp: foam, startedAt: '2026-03-03T00:00:00Z' },
      { ...anySession(), id: '2', setUp: board, startedAt: '2026-03-02T00:00:00Z' },
      { ...anySession(), id: '1', setUp: foam, startedAt: '2026-03-01T00:00:00Z' },
    ]
    const series = bySetUp(sessions, (session) => setUpWords(session.setUp))
    expect(series.map((group) => group.sessions.map((session) => session.id))).toEqual([['1', '3'], ['2']])
  })

  test('sessions without a noted set-up are never joined', () => {
    const sessions = [{ ...anySession(), setUp: null }, anySession()]
    const joined = bySetUp(sessions, (session) => setUpWords(session.setUp)).map((group) => group.joined)
    expect(joined.sort()).toEqual([false, true])
  })

  test('a session without a date has no place in the chart', () => {
    expect(bySetUp([{ ...anySession(), startedAt: null }], () => 'x')).toEqual([])
  })

  test('a session without a comparable value is left out, whatever its whole holds say', () => {
    const sessions = [{ ...anySession(), comparableSwayMs2: null, swayMs2: 0.05 }]
    expect(bySetUp(sessions, () => 'x')).toEqual([])
  })
})
