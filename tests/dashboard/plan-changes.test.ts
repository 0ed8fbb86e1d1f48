import { expect, test } from 'vitest'
import type { Plan } from '#protocol/resources'
import { planChanges } from '../../dashboard/lib/plan-changes.ts'
import { draftOf, planOf } from '../../dashboard/lib/plan-draft.ts'
import { bodyUnits } from '../../dashboard/lib/preferences.svelte.ts'
import { anyPlan } from './fakes/records.ts'

const changed = (changes: Partial<Plan>): string[] => {
  bodyUnits.value = 'metric'
  return planChanges({ ...anyPlan(), version: 3, ...changes }, anyPlan())
}
const [pad, board] = anyPlan().exercises

test('a version that changes nothing says nothing, whatever day it begins', () => {
  expect(changed({ validFrom: '2026-04-01', createdAt: '2026-04-01T08:00:00Z' })).toEqual([])
  expect(changed({ validUntil: null })).toEqual([])
})

test('exercises are told apart by their id: new, left out, and what was changed about one', () => {
  const taller = { ...pad, setUp: { ...pad.setUp, heightCm: 8, unstable: true } }
  expect(changed({ exercises: [taller, board] })).toEqual([
    'stand on foam pad: the set-up is now stand on foam pad, foam pad, 45 cm fore to hind, 20 cm left to right, ' +
      '8 cm high, unstable, it was stand on foam pad, foam pad, 45 cm fore to hind, 20 cm left to right.',
  ])
  expect(
    changed({
      exercises: [
        { ...pad, repetitions: 2 },
        { ...board, id: 'other' },
      ],
    }),
  ).toEqual([
    'New: fore paws on rocker board, rocker board.',
    'Left out: fore paws on rocker board, rocker board.',
    'stand on foam pad: holds of 8 s, 2 repetitions; it was holds of 8 s, 3 repetitions.',
  ])
})

test('limits, rules, who and until when are each a line of their own', () => {
  expect(
    changed({
      sessionCapS: 240,
      daysPerWeek: null,
      stopRules: { swayRatio: 1.4, holdRatio: 0.5, supportRise: null },
      setBy: 'Dr Linnet',
      validUntil: '2026-06-30',
      notes: 'Rest on Sundays.',
    }),
  ).toEqual([
    'Now a session up to 4:00; it was a session up to 5:00.',
    'Now days a week: not said; it was 5 days a week.',
    'The hold view says to stop when a hold sways more than 1.4 times as much as the first.',
    'Off: the rule about hands-on time.',
    'Set by Dr Linnet, before by Rowan Vale.',
    expect.stringMatching(/^Applies until .*2026/),
    'Other notes.',
  ])
})

test('a last day is kept by the form while it lies ahead, and left out when nobody says one', () => {
  const plan = { ...anyPlan(), validUntil: '2026-06-30' }
  expect(planOf(draftOf(plan, '2026-06-01')).validUntil).toBe('2026-06-30')
  expect('validUntil' in planOf(draftOf(plan, '2026-07-01'))).toBe(false)
  expect('validUntil' in planOf(draftOf(anyPlan(), '2026-06-01'))).toBe(false)
})
