import { describe, expect, test } from 'vitest'
import { planBasis } from '#protocol/plan-limits'
import { dayOf, draftOf, emptyExercise, planOf } from '../../dashboard/lib/plan-draft.ts'
import { sensorCheck } from '../../dashboard/lib/sensor-check.ts'
import type { SensorReading } from '../../dashboard/lib/sensor-check.ts'
import { anyPlan } from './fakes/records.ts'

describe('plan form', () => {
  test('a plan survives its form: percent and minutes turn back into what was there', () => {
    const { exercises, sessionCapS, sessionsPerDay, daysPerWeek, stopRules, setBy, validFrom, notes } =
      anyPlan()
    const written = {
      exercises,
      sessionCapS,
      sessionsPerDay,
      daysPerWeek,
      stopRules,
      setBy,
      validFrom,
      notes,
    }
    expect(planOf(draftOf(anyPlan(), written.validFrom))).toEqual(written)
  })

  test('a first plan begins with common practice, and with no hold target: only a therapist can say it', () => {
    const plan = planOf(draftOf(null, '2026-03-01'))
    expect(plan.stopRules).toEqual({ swayRatio: 1.5, holdRatio: 0.5, supportRise: 0.25 })
    expect(plan.sessionCapS).toBe(300)
    expect(plan.exercises[0]).toMatchObject({ holdTargetS: null, repetitions: 3 })
    expect(plan.exercises[0].id).toMatch(/^[A-Za-z0-9_-]{1,64}$/)
    expect(plan.fromPractice).toEqual(['session cap', 'repetitions', 'signs of tiring'])
    expect(emptyExercise().id).not.toBe(emptyExercise().id)
  })

  test('what a person changes or says the therapist set is no longer called common practice', () => {
    const draft = draftOf(null, '2026-03-01')
    draft.sessionCapMin = 4
    draft.swayRatio = 1.4
    expect(planOf(draft).fromPractice).toEqual(['repetitions'])
    draft.fromPractice = []
    expect(planOf(draft)).not.toHaveProperty('fromPractice')
    const kept = { ...anyPlan(), sessionCapS: 300, fromPractice: ['session cap' as const] }
    expect(planOf(draftOf(kept, '2026-03-01')).fromPractice).toEqual(['session cap'])
    expect(planBasis(kept)).toBe(
      `plan version ${kept.version}, set by ${kept.setBy}; by common practice, no source: session cap`,
    )
  })

  test('an emptied field is no limit, not a limit of zero', () => {
    const draft = draftOf(anyPlan(), '2026-03-01')
    Object.assign(draft, { sessionCapMin: undefined, holdPercent: null, sessionsPerDay: undefined })
    expect(planOf(draft)).toMatchObject({
      sessionCapS: null,
      sessionsPerDay: null,
      stopRules: { swayRatio: 1.5, holdRatio: null },
    })
  })

  test('a day is that of the reader, not of Greenwich', () => {
    expect(dayOf(new Date(2026, 0, 5, 0, 10))).toBe('2026-01-05')
    expect(dayOf(new Date(2026, 11, 31, 23, 50))).toBe('2026-12-31')
  })
})

describe('sensor check', () => {
  const good: SensorReading = {
    nominalRateHz: 100,
    measuredRateHz: 99.7,
    lossShare: 0.01,
    accelerationMs2: 9.9,
    batteryPercent: 80,
    resolutionMs2: 0.005,
  }
  const troubles = (changes: Partial<SensorReading>) =>
    sensorCheck({ ...good, ...changes })
      .filter(({ trouble }) => trouble)
      .map(({ name }) => name)

  test('finds nothing in a good sensor, and what is wrong in a bad one', () => {
    expect(troubles({})).toEqual([])
    expect(troubles({ measuredRateHz: 90 })).toEqual(['Rate'])
    expect(troubles({ lossShare: 0.2 })).toEqual(['Lost samples'])
    // In g instead of m/s²: 1 m/s² is 0.10 g.
    expect(troubles({ accelerationMs2: 1 })).toEqual(['Gravity'])
    expect(troubles({ accelerationMs2: 15 })).toEqual(['Gravity'])
    expect(troubles({ batteryPercent: 10 })).toEqual(['Battery'])
    // What phones round to (W3C Device Orientation): 0.1 m/s².
    expect(troubles({ resolutionMs2: 0.1 })).toEqual(['Smallest step'])
  })

  test('what is not known yet says so and is no trouble', () => {
    const lines = sensorCheck({
      nominalRateHz: null,
      measuredRateHz: null,
      lossShare: 0,
      accelerationMs2: null,
      batteryPercent: null,
      resolutionMs2: null,
    })
    expect(lines.every(({ value, words, trouble }) => value === '–' && words !== '' && !trouble)).toBe(true)
  })
})
