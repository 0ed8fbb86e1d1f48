import { describe, expect, test } from 'vitest'
import { doseWeeks, moreThanPlan } from '#protocol/dose-weeks'
import type { DoseInput } from '#protocol/dose-weeks'
import { endedPlan, planInForce } from '#protocol/plan-in-force'
import type { Plan, SessionSummary } from '#protocol/resources'
import { anyPlan, anySession } from '../dashboard/fakes/records.ts'

/** A session of the dog on an instant of UTC. */
const on = (startedAt: string, extra: Partial<SessionSummary> = {}): SessionSummary => ({
  ...anySession(),
  id: startedAt,
  startedAt,
  ...extra,
})
/** Thursday of the week from Monday 2 March 2026. */
const input = (
  sessions: readonly SessionSummary[],
  plans: readonly Plan[] = [],
  more: Partial<DoseInput> = {},
): DoseInput => ({ sessions, plans, timeZone: 'UTC', now: new Date('2026-03-05T12:00:00Z'), ...more })

describe('plan in force', () => {
  const version = (n: number, validFrom: string, validUntil: string | null = null): Plan => ({
    ...anyPlan(),
    version: n,
    validFrom,
    validUntil,
  })

  test('is the newest version that has begun, and none once that has ended', () => {
    const plans = [version(1, '2026-01-01'), version(2, '2026-02-01', '2026-02-28'), version(3, '2026-04-01')]
    const on = (day: string) => planInForce(plans, day)?.version ?? null
    expect([on('2025-12-31'), on('2026-01-01'), on('2026-02-01'), on('2026-02-28')]).toEqual([null, 1, 2, 2])
    expect([on('2026-03-01'), on('2026-03-31'), on('2026-04-01')]).toEqual([null, null, 3])
    expect(endedPlan(plans, '2026-03-01')?.version).toBe(2)
    expect(endedPlan(plans, '2026-04-01')).toBeNull()
    expect(endedPlan(plans, '2025-01-01')).toBeNull()
  })

  test('of a plan from before last days were kept goes on', () => {
    expect(planInForce([anyPlan()], '2030-01-01')?.version).toBe(2)
  })
})

describe('a week', () => {
  test('adds up the days, sessions, repetitions and hold time of the dog from Monday to Sunday', () => {
    const [week, before] = doseWeeks(
      input([
        on('2026-03-01T23:59:59Z'),
        on('2026-03-02T00:00:00Z', { durationS: 200 }),
        on('2026-03-02T18:00:00Z', { handsOffHoldS: 10 }),
        on('2026-03-04T18:00:00Z', {
          state: 'analysing',
          repetitions: null,
          holdS: null,
          handsOffHoldS: null,
        }),
      ]),
      26,
    )
    expect(week).toMatchObject({ monday: '2026-03-02', current: true, planVersion: null })
    // Two finished sessions of 24 s and 2 repetitions; the one being analysed has no figures yet.
    expect(week.done).toEqual({
      days: 2,
      sessions: 3,
      repetitions: 4,
      holdS: 48,
      handsOffHoldS: 28,
      longestS: 200,
      overLimit: 0,
      daysOverSessions: 0,
    })
    expect(before).toMatchObject({ monday: '2026-02-23', current: false, left: null, done: { sessions: 1 } })
  })

  test('holds what was left out of trends, but nothing failed, simulated, replayed or undated', () => {
    const sessions = [
      on('2026-03-02T10:00:00Z', { excluded: { reason: 'harness slipped', at: '2026-03-03T08:00:00Z' } }),
      on('2026-03-03T10:00:00Z', { state: 'failed' }),
      on('2026-03-03T11:00:00Z', { state: 'recording' }),
      on('2026-03-03T12:00:00Z', { sensor: 'simulated harness', fileName: null }),
      on('2026-03-03T13:00:00Z', { sensor: 'replay', fileName: null }),
      { ...anySession(), startedAt: null, createdAt: '2026-03-03T14:00:00Z' },
      on('2026-03-09T10:00:00Z'),
    ]
    expect(doseWeeks(input(sessions), 26)[0].done.sessions).toBe(1)
    // The demo dog does nothing but play.
    expect(doseWeeks(input(sessions, [], { played: true }), 26)[0].done.sessions).toBe(3)
  })

  test('says no hands-off time when a session with holds lacks it', () => {
    const [week] = doseWeeks(
      input([on('2026-03-02T10:00:00Z'), on('2026-03-03T10:00:00Z', { handsOffHoldS: null })]),
      1,
    )
    expect(week.done.handsOffHoldS).toBeNull()
  })

  test('lies in the zone of the person: a Sunday evening in Samoa is a Monday in UTC', () => {
    const late = [on('2026-03-02T10:30:00Z')]
    const now = new Date('2026-03-02T10:45:00Z')
    expect(doseWeeks(input(late, [], { now }), 9).map(({ monday }) => monday)).toEqual(['2026-03-02'])
    const west = doseWeeks(input(late, [], { now, timeZone: 'Pacific/Pago_Pago' }), 9)
    expect(west.map(({ monday, done }) => [monday, done.sessions])).toEqual([['2026-02-23', 1]])
  })

  test('of the day Samoa left out has its Monday and Sunday all the same', () => {
    const dates = ['2011-12-29T12:00:00Z', '2011-12-30T12:00:00Z'].map((at) => on(at))
    const more = { timeZone: 'Pacific/Apia', now: new Date('2012-01-01T00:00:00Z') }
    // 29 December 02:00 and 31 December 02:00 there; the clock went from the one to the other in a day.
    expect(doseWeeks(input(dates, [], more), 9)).toMatchObject([
      { monday: '2011-12-26', done: { sessions: 2, days: 2 } },
    ])
  })

  test('without sessions stands in the list as well, back to the first one and no further than asked for', () => {
    const sessions = [on('2026-03-03T10:00:00Z'), on('2025-12-30T10:00:00Z')]
    const mondays = doseWeeks(input(sessions), 26).map(({ monday }) => monday)
    expect(mondays.at(-1)).toBe('2025-12-29')
    expect(mondays).toHaveLength(10)
    expect(doseWeeks(input(sessions), 3)).toHaveLength(3)
    expect(doseWeeks(input([]), 26)).toHaveLength(1)
    expect(() => doseWeeks(input([]), 0)).toThrow(RangeError)
  })

  test('counts the answers of its sessions', () => {
    const answered = (startedAt: string, answer: 'tired' | 'better') =>
      on(startedAt, { checkIn: { answer, note: null, at: startedAt, version: 1 } })
    const sessions = [answered('2026-03-02T10:00:00Z', 'tired'), answered('2026-03-03T10:00:00Z', 'better')]
    expect(doseWeeks(input(sessions), 1)[0].checkIns).toEqual({ better: 1, normal: 0, tired: 1, sore: 0 })
  })
})

describe('against the plan', () => {
  const plan = (changes: Partial<Plan>): Plan => ({ ...anyPlan(), validUntil: null, ...changes })

  test('that changed in a week is against the version of its last day, of this week on today', () => {
    const plans = [
      plan({ version: 1, validFrom: '2026-02-01', daysPerWeek: 3 }),
      plan({ version: 2, validFrom: '2026-02-27', daysPerWeek: 4 }),
      plan({ version: 3, validFrom: '2026-03-06', daysPerWeek: 6 }),
    ]
    const weeks = doseWeeks(input([on('2026-02-17T10:00:00Z')], plans), 26)
    // Version 3 begins tomorrow: it says nothing about today.
    expect(weeks.map(({ planVersion, planned }) => [planVersion, planned.days])).toEqual([
      [2, 4],
      [2, 4],
      [1, 3],
    ])
  })

  test('holds each day against the sessions a day of that day', () => {
    const plans = [
      plan({ version: 1, validFrom: '2026-02-01', sessionsPerDay: 2 }),
      plan({ version: 2, validFrom: '2026-03-04', sessionsPerDay: 1 }),
    ]
    const twice = (day: string) => [on(`${day}T08:00:00Z`), on(`${day}T18:00:00Z`)]
    expect(doseWeeks(input(twice('2026-03-03'), plans), 1)[0].done.daysOverSessions).toBe(0)
    expect(doseWeeks(input(twice('2026-03-04'), plans), 1)[0].done.daysOverSessions).toBe(1)
  })

  test('says what was more in words that judge nothing, and nothing about less', () => {
    const plans = [plan({ validFrom: '2026-02-01', daysPerWeek: 2, sessionsPerDay: 1 })]
    const days = ['02', '03', '04'].map((day) => on(`2026-03-${day}T10:00:00Z`))
    const sessions = [...days, on('2026-03-04T18:00:00Z', { planWarnings: 2 })]
    expect(moreThanPlan(doseWeeks(input(sessions, plans), 1)[0])).toEqual([
      '3 days, the plan says 2',
      '1 day with more sessions than the plan says',
      '1 session past a limit',
    ])
    expect(moreThanPlan(doseWeeks(input(days.slice(0, 1), plans), 1)[0])).toEqual([])
  })

  test.each([
    // Thursday; 5 days a week, 2 sessions a day. Done so far, then what is left by hand.
    { done: [], days: 4, sessions: 8 },
    { done: ['02'], days: 4, sessions: 8 },
    { done: ['02', '03', '04'], days: 2, sessions: 4 },
    { done: ['02', '03', '05'], days: 2, sessions: 5 },
    { done: ['02', '03', '05', '05'], days: 2, sessions: 4 },
    { done: ['05'], days: 3, sessions: 7 },
  ])('allows $days days and $sessions sessions after $done', ({ done, days, sessions }) => {
    const plans = [plan({ validFrom: '2026-02-01', daysPerWeek: 5, sessionsPerDay: 2 })]
    const list = done.map((day, k) => on(`2026-03-${day}T0${k + 1}:00:00Z`))
    expect(doseWeeks(input(list, plans), 1)[0].left).toEqual({ days, sessions })
  })

  test('allows only in days this very version applies: it ends, or a newer one begins, before Sunday', () => {
    const numbers = { daysPerWeek: 5, sessionsPerDay: 1 }
    // Today is Thursday, 5 March.
    const ends = plan({ validFrom: '2026-02-01', validUntil: '2026-03-06', ...numbers })
    expect(doseWeeks(input([], [ends]), 1)[0].left).toEqual({ days: 2, sessions: 2 })
    const next = plan({ version: 2, validFrom: '2026-03-07', daysPerWeek: 1, sessionsPerDay: 1 })
    const first = plan({ version: 1, validFrom: '2026-02-01', ...numbers })
    expect(doseWeeks(input([], [first, next]), 1)[0].left).toEqual({ days: 2, sessions: 2 })
    const today = on('2026-03-05T09:00:00Z')
    expect(doseWeeks(input([today], [first, next]), 1)[0].left).toEqual({ days: 1, sessions: 1 })
  })

  test('allows nothing more once its days are done, and says no number the plan does not say', () => {
    const plans = [plan({ validFrom: '2026-02-01', daysPerWeek: 1, sessionsPerDay: 2 })]
    const list = [on('2026-03-02T10:00:00Z'), on('2026-03-05T10:00:00Z')]
    expect(doseWeeks(input(list, plans), 1)[0].left).toEqual({ days: 0, sessions: 0 })
    const open = [plan({ validFrom: '2026-02-01', daysPerWeek: null })]
    expect(doseWeeks(input(list, open), 1)[0].left).toEqual({ days: null, sessions: null })
  })

  test('has as many repetitions a session as its longest exercise, or no number when one is open', () => {
    const [pad, board] = anyPlan().exercises
    const repetitions = (exercises: Plan['exercises']) =>
      doseWeeks(input([], [plan({ validFrom: '2026-02-01', exercises })]), 1)[0].planned.repetitionsPerSession
    expect(repetitions([pad, board])).toBe(3)
    expect(repetitions([pad, { ...board, repetitions: null }])).toBeNull()
  })
})
