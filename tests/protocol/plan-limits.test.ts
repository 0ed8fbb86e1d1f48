import { describe, expect, it } from 'vitest'
import { plannedExerciseOf, stopLimitsOf } from '#protocol/plan-limits'
import { madePlan } from '../helpers/made-plan.ts'

const PLAN = { ...madePlan(), dogId: 'd', version: 3, createdAt: '2026-03-01T10:00:00.000Z' }

describe('stopLimitsOf', () => {
  it('takes every limit from the plan and says which plan it is', () => {
    expect(stopLimitsOf(PLAN, 'foam-stand')).toEqual({
      sessionCapS: 240,
      maxRepetitions: 3,
      swayRatio: 1.4,
      holdRatio: 0.5,
      supportRise: null,
      basis: 'plan version 3, set by Rowan Vale',
    })
    expect(stopLimitsOf(PLAN, 'rocker').maxRepetitions).toBeNull()
  })

  it('refuses an exercise the plan does not have', () => {
    expect(() => stopLimitsOf(PLAN, 'swim')).toThrow('version 3 of the plan has no exercise swim')
  })
})

describe('plannedExerciseOf', () => {
  it('gives what the hold view shows', () => {
    expect(plannedExerciseOf(PLAN, 'foam-stand')).toEqual({
      planVersion: 3,
      exercise: 'stand on foam pad',
      holdTargetS: 8,
      repetitions: 3,
    })
  })
})
