import { beforeEach, describe, expect, test } from 'vitest'
import type { Dog } from '#protocol/resources'
import { auditDetails, auditWords } from '../../dashboard/lib/audit-words.ts'
import {
  changedElsewhere,
  dogChangeOf,
  draftOfDog,
  EMPTY_DOG,
  newDogOf,
} from '../../dashboard/lib/dog-draft.ts'
import { firstPlan, forgetFirstSteps, planOfFirst } from '../../dashboard/lib/first-steps.svelte.ts'
import { Kept } from '../../dashboard/lib/kept.svelte.ts'

const DOG: Dog = {
  id: 'd1',
  name: 'Bryony',
  breed: 'Whippet',
  weightKg: 14.2,
  withersCm: null,
  bornYear: 2017,
  notes: null,
  demo: false,
  createdAt: '2026-03-01T08:00:00.000Z',
  sessions: 3,
  version: 4,
}

beforeEach(() => localStorage.clear())

describe('what is typed', () => {
  test('is there again after the page was left, until it is forgotten', () => {
    const first = new Kept('test', { name: '', age: null as number | null })
    first.value.name = 'Teasel'
    first.value.age = 3
    first.keep()
    expect(new Kept('test', { name: '', age: null }).value).toEqual({ name: 'Teasel', age: 3 })
    first.forget()
    expect(new Kept('test', { name: '', age: null }).value).toEqual({ name: '', age: null })
  })

  test('of another shape or kind is not taken over', () => {
    localStorage.setItem('swaybook.test', '{"name":7,"colour":"red","age":2}')
    expect(new Kept('test', { name: '', age: null }).value).toEqual({ name: '', age: 2 })
    localStorage.setItem('swaybook.test', '{"name":')
    expect(new Kept('test', { name: 'x' }).value).toEqual({ name: 'x' })
  })
})

describe('a dog as typed', () => {
  test('needs the name alone, and leaves out what is empty', () => {
    expect(newDogOf({ ...EMPTY_DOG, name: ' Teasel ' })).toEqual({ name: 'Teasel' })
    expect(newDogOf({ ...EMPTY_DOG, name: 'Teasel', weightKg: 9 })).toEqual({ name: 'Teasel', weightKg: 9 })
  })

  test('changes only the fields a person changed, and clears what was emptied', () => {
    const before = draftOfDog(DOG)
    expect(dogChangeOf(before, { ...before })).toBeNull()
    expect(dogChangeOf(before, { ...before, breed: ' ', weightKg: 15 })).toEqual({
      breed: null,
      weightKg: 15,
    })
  })

  test('says which fields somebody else changed meanwhile', () => {
    expect(changedElsewhere(draftOfDog(DOG), { ...DOG, breed: 'Lurcher', sessions: 9 })).toEqual(['breed'])
  })
})

describe('the plan in its short form', () => {
  test('has no limit that nobody gave', () => {
    const first = { ...firstPlan('d1').value, exercise: 'stand', surface: 'pad', setBy: 'Rowan Vale' }
    const plan = planOfFirst(first, '2026-03-01')
    expect(plan).toMatchObject({
      sessionCapS: null,
      sessionsPerDay: null,
      daysPerWeek: null,
      setBy: 'Rowan Vale',
      validFrom: '2026-03-01',
      exercises: [{ setUp: { exercise: 'stand', surface: 'pad' }, holdTargetS: null, repetitions: null }],
    })
  })

  test('goes with the dog from this browser', () => {
    const kept = firstPlan('d1')
    kept.value.exercise = 'stand'
    kept.keep()
    forgetFirstSteps('d1')
    expect(firstPlan('d1').value.exercise).toBe('')
  })
})

describe('the list of changes', () => {
  test('says in words what was done, and of another server what it calls it', () => {
    expect(auditWords({ action: 'plan.set' })).toBe('Set the plan')
    expect(auditWords({ action: 'session.excluded' })).toBe('Left out of trends: a session')
    expect(auditWords({ action: 'harness.washed' })).toBe('harness.washed')
  })

  test('shows what it was and what it is, without ids and whole documents', () => {
    const detail = {
      id: 'x',
      before: { weightKg: 14, notes: null },
      after: { weightKg: 15, setUp: { a: 1 } },
    }
    expect(auditDetails(detail)).toEqual(['weight in kg: 14 → 15'])
    expect(auditDetails({ version: 2, setBy: 'Rowan Vale' })).toEqual(['version: 2', 'set by: Rowan Vale'])
    expect(auditDetails({ before: { title: 'Fall' } })).toEqual(['title: was Fall'])
    expect(auditDetails(null)).toEqual([])
  })

  test('says moments as minutes and seconds, days and instants as people write them, numbers without noise', () => {
    expect(auditDetails({ atS: 64.4331000000015 })).toEqual(['at: 1:04.4'])
    expect(auditDetails({ fromS: 59.97, holdTargetS: 20 })).toEqual(['from: 1:00.0', 'hold target: 20.0 s'])
    expect(auditDetails({ weightKg: 0.1 + 0.2, bornYear: 2017 })).toEqual([
      'weight in kg: 0.3',
      'year of birth: 2017',
    ])
    const [instant, day] = auditDetails({ startedAt: '2026-03-01T08:00:00.000Z', fromDate: '2026-03-04' })
    expect(instant).toMatch(/^date and time: (?!.*T\d\d:).*2026/)
    expect(day).toMatch(/^first day: (?!2026-).*2026/)
  })
})
