import { describe, expect, test } from 'vitest'
import type { SessionSummary } from '#protocol/resources'
import { checkInAdvice, lastCheckIn, missingCheckIn } from '../../dashboard/lib/check-in-words.ts'
import { planProgress } from '../../dashboard/lib/plan-progress.ts'
import { lastWithSetUp, sameSetUp, setUpDraft, typedSetUp } from '../../dashboard/lib/set-up.ts'
import { anyPlan, anySession } from './fakes/records.ts'

/** Thursday noon, in the zone of the test machine. */
const NOW = new Date(2026, 2, 5, 12)
const at = (day: number, hour = 10) => new Date(2026, 2, day, hour).toISOString()
const session = (startedAt: string | null, extra: Partial<SessionSummary> = {}): SessionSummary => ({
  ...anySession(),
  startedAt,
  ...extra,
})
const checked = (answer: 'normal' | 'tired' | 'sore') => ({ answer, note: null, at: at(4), version: 1 })

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

  test('leaves out simulated and replayed sessions and files without a day, but for the demo dog', () => {
    const sessions = [
      session(at(5), { sensor: 'simulated harness', fileName: null }),
      session(at(5), { sensor: 'replay', fileName: null }),
      session(null, { createdAt: at(5) }),
    ]
    expect(planProgress(sessions, NOW)).toMatchObject({ today: 0, daysThisWeek: 0 })
    expect(planProgress(sessions, NOW, { simulated: true }).today).toBe(2)
  })
})

describe('check-in', () => {
  test('is asked the morning after, for the newest session of an earlier day', () => {
    const tuesday = session(at(3), { id: 'tuesday' })
    expect(missingCheckIn([session(at(2)), tuesday], NOW)?.id).toBe('tuesday')
    expect(missingCheckIn([tuesday, session(at(5, 8))], NOW)?.id).toBe('tuesday')
    expect(missingCheckIn([session(at(5, 8))], NOW)).toBeNull()
  })

  test('is not asked twice, nor after a week, nor for a simulated session', () => {
    expect(missingCheckIn([session(at(3), { checkIn: checked('normal') })], NOW)).toBeNull()
    expect(missingCheckIn([session(new Date(2026, 1, 20).toISOString())], NOW)).toBeNull()
    expect(missingCheckIn([session(at(3), { sensor: 'simulated harness', fileName: null })], NOW)).toBeNull()
  })

  test('fine brings no advice: a good morning is no reason to do more', () => {
    expect(checkInAdvice({ answer: 'normal', troubled: 3 }, anyPlan())).toEqual([])
    expect(checkInAdvice(null, anyPlan())).toEqual([])
  })

  test('tired cuts back in numbers of the plan, each with its basis', () => {
    const [first] = checkInAdvice({ answer: 'tired', troubled: 1 }, anyPlan())
    expect(first.text).toBe(
      "Cut back today, or leave it out: at most 1 of the plan's 3 repetitions, no longer than 2:30 of the plan's 5:00 min.",
    )
    expect(first.basis).toBe('plan version 2; halving is common practice, no source')
  })

  test('sore asks before anything else', () => {
    const advice = checkInAdvice({ answer: 'sore', troubled: 1 }, null)
    expect(advice[0].text).toContain('Ask the therapist or the vet before the next session')
    expect(advice.every(({ basis }) => basis !== '')).toBe(true)
  })

  test('repeated trouble is brought to the therapist', () => {
    const answers = ['tired', 'normal', 'sore'] as const
    const sessions = answers.map((answer, k) => session(at(4 - k), { checkIn: checked(answer) }))
    const last = lastCheckIn(sessions)
    expect(last).toMatchObject({ answer: 'tired', troubled: 2 })
    expect(checkInAdvice(last, anyPlan()).at(-1)?.text).toContain('ask the therapist before going on')
  })

  test('no advice ever says to do more', () => {
    for (const answer of ['normal', 'tired', 'sore'] as const) {
      for (const plan of [anyPlan(), null]) {
        for (const { text } of checkInAdvice({ answer, troubled: 4 }, plan)) {
          expect(text).not.toMatch(
            /\b(add|increase|progress|longer than the plan|harder|more repetitions)\b/i,
          )
        }
      }
    }
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
