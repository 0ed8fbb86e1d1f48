import type { NewPlan, NewSession } from '#protocol/resources'
import { draftOf, planOf } from './plan-draft'
import { Kept } from './kept.svelte'

/** What was answered while a dog was set up and belongs to this browser. */
export interface FirstSteps {
  /** There is no plan yet, and the handler will ask for one. */
  willAsk: boolean
  sensor: NewSession['sensor'] | 'file' | null
  /** When the handler said that the vet approves, ISO 8601. */
  approvedAt: string | null
}

export const firstSteps = (dogId: string) =>
  new Kept<FirstSteps>(`first-steps.${dogId}`, { willAsk: false, sensor: null, approvedAt: null })

/** The plan in its short form, as the vet or therapist gave it. */
export interface FirstPlan {
  exercise: string
  surface: string
  holdTargetS: number | null
  repetitions: number | null
  sessionCapMin: number | null
  setBy: string
}

export const firstPlan = (dogId: string) =>
  new Kept<FirstPlan>(`first-plan.${dogId}`, {
    exercise: '',
    surface: '',
    holdTargetS: null,
    repetitions: null,
    sessionCapMin: null,
    setBy: '',
  })

/**
 * Version 1 of the plan of a filled-in short form, from `today` (YYYY-MM-DD) on. What was left empty stays
 * without a limit; the signs of tiring are those of common practice, as for a dog without a plan.
 */
export function planOfFirst(first: FirstPlan, today: string): NewPlan {
  const draft = draftOf(null, today)
  const { exercise, surface, holdTargetS, repetitions, sessionCapMin, setBy } = first
  return planOf({
    ...draft,
    exercises: [
      {
        ...draft.exercises[0],
        setUp: { ...draft.exercises[0].setUp, exercise, surface },
        holdTargetS,
        repetitions,
      },
    ],
    sessionCapMin,
    setBy,
    // The numbers are as typed here; only the signs nobody was asked for are not their word.
    fromPractice: ['signs of tiring'],
  })
}

/** Nothing of a deleted dog stays in this browser. */
export function forgetFirstSteps(dogId: string): void {
  firstSteps(dogId).forget()
  firstPlan(dogId).forget()
}
