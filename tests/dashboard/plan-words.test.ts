import { describe, expect, test } from 'vitest'
import type { SessionSummary } from '#protocol/resources'
import { planProgress } from '../../dashboard/lib/plan-progress.ts'
import { lastWithSetUp, sameSetUp, setUpDraft, typedSetUp } from '../../dashboard/lib/set-up.ts'
import { anySession } from './fakes/records.ts'

/** Thursday noon, in the zone of the test machine. */
const NOW = new Date(2026, 2, 5, 12)
const at = (day: number, hour = 10) => new Date(2026, 2, day, hour).toISOString()
const session = (startedAt: string | null, extra: Partial<SessionSummary> = {}): SessionSummary => ({
  ...anySession(),
  startedAt,
  ...extra,
})

describe('done against the plan', () => {
  test('counts sessions of today and days of this week, which begins on Monday', () => {
    // Sunday is last week; two sessions on Tuesday are one day.
    const progress = planProgress(
      [session(at(1)), session(at(3)), session(at(3, 18)), session(at(5, 8)), session(at(5, 11))],
      NOW,
    )
    expect(progress.today).toBe(2)
    expect(progress.daysThisWeek).toBe(2)
  })

  test('counts each exercise of the plan today', () => {
    const planned = { planVersion: 1, exerciseId: 'pad' }
    const progress = planProgress([session(at(5, 8), { planned }), session(at(4), { planned })], NOW)
    expect(progress.byExercise.get('pad')).toBe(1)
  })

  test('leaves out simulated and replayed sessions and files without a day, but for the demo dog, and what failed', () => {
    const sessions = [
      session(at(5), { sensor: 'simulated harness', fileName: null }),
      session(at(5), { sensor: 'replay', fileName: null }),
      session(null, { createdAt: at(5) }),
      session(at(5), { state: 'failed' }),
    ]
    expect(planProgress(sessions, NOW)).toMatchObject({ today: 0, daysThisWeek: 0 })
    expect(planProgress(sessions, NOW, { simulated: true }).today).toBe(2)
  })
})

describe('set-up', () => {
  test('is the same only with the same words and the same spacing', () => {
    const pad = typedSetUp({
      ...setUpDraft(),
      exercise: ' stand on foam pad',
      surface: 'foam pad ',
      foreToHindCm: 45,
    })
    expect(pad).toEqual({ exercise: 'stand on foam pad', surface: 'foam pad', foreToHindCm: 45 })
    expect(sameSetUp(pad, { ...pad })).toBe(true)
    expect(sameSetUp(pad, { ...pad, foreToHindCm: 50 })).toBe(false)
    expect(sameSetUp(pad, { exercise: pad.exercise, surface: pad.surface })).toBe(false)
    for (const other of [{ heightCm: 8 }, { firmness: 'soft' }, { unstable: false }] as const) {
      expect(sameSetUp(pad, { ...pad, ...other })).toBe(false)
    }
  })

  test('comes out of a form as it went in', () => {
    const whole = {
      exercise: 'stand',
      surface: 'pad',
      foreToHindCm: 45,
      leftToRightCm: 20,
      heightCm: 0,
      firmness: 'soft',
      unstable: false,
    } as const
    expect(typedSetUp(setUpDraft(whole))).toEqual(whole)
    expect(typedSetUp(setUpDraft({ exercise: 'stand', surface: 'pad' }))).toEqual({
      exercise: 'stand',
      surface: 'pad',
    })
  })

  test('of last time is that of the newest session with one', () => {
    const noted = session(at(2), { id: 'noted' })
    expect(lastWithSetUp([noted, session(at(4), { setUp: null })])?.id).toBe('noted')
    expect(lastWithSetUp([])).toBeUndefined()
  })
})
