import type { Dog, DogChange, NewDog } from '#protocol/resources'

/** A dog as the form holds it: empty where nobody says; null and undefined are an empty number field. */
export interface DogDraft {
  name: string
  breed: string
  weightKg: number | null
  withersCm: number | null
  bornYear: number | null
  notes: string
}

export const EMPTY_DOG: DogDraft = {
  name: '',
  breed: '',
  weightKg: null,
  withersCm: null,
  bornYear: null,
  notes: '',
}

export function draftOfDog(dog: Dog): DogDraft {
  const { name, breed, weightKg, withersCm, bornYear, notes } = dog
  return { name, breed: breed ?? '', weightKg, withersCm, bornYear, notes: notes ?? '' }
}

/** The new dog of a filled-in form; what is empty is left out. */
export function newDogOf(draft: DogDraft): NewDog {
  const { name, ...others } = wordsOf(draft)
  const given = Object.entries(others).filter(([, value]) => value !== null)
  return { name, ...Object.fromEntries(given) } as NewDog
}

/** What a form that began with `before` changes; null when it changes nothing. Emptied fields are cleared. */
export function dogChangeOf(before: DogDraft, draft: DogDraft): DogChange | null {
  const was = wordsOf(before)
  const is = wordsOf(draft)
  const changed = (Object.keys(is) as (keyof DogDraft)[]).filter((field) => is[field] !== was[field])
  if (changed.length === 0) return null
  return Object.fromEntries(changed.map((field) => [field, is[field]])) as DogChange
}

const FIELD_WORDS: Record<keyof DogDraft, string> = {
  name: 'name',
  breed: 'breed',
  weightKg: 'weight',
  withersCm: 'height',
  bornYear: 'year of birth',
  notes: 'notes',
}

/** What somebody else changed since `before` was read, in words; empty when it is none of these fields. */
export function changedElsewhere(before: DogDraft, now: Dog): string[] {
  const change = dogChangeOf(before, draftOfDog(now))
  return change ? Object.keys(change).map((field) => FIELD_WORDS[field as keyof DogDraft]) : []
}

function wordsOf({ name, breed, weightKg, withersCm, bornYear, notes }: DogDraft) {
  return {
    name: name.trim(),
    breed: breed.trim() || null,
    weightKg: weightKg ?? null,
    withersCm: withersCm ?? null,
    bornYear: bornYear ?? null,
    notes: notes.trim() || null,
  }
}
