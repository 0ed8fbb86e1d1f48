import { browserStorage } from '../preferences.svelte'

/** What a person may write; a page carries less of it. */
export const MAX_QUESTION_LETTERS = 2000

const keyOf = (dogId: string) => `swaybook.report-questions.${dogId}`

/** The owner's questions to the vet about a dog: kept on this device only. */
export const loadQuestions = (dogId: string): string => browserStorage()?.getItem(keyOf(dogId)) ?? ''

/** False where this browser keeps nothing: the words then last until the page closes. */
export function keepQuestions(dogId: string, text: string): boolean {
  const storage = browserStorage()
  if (!storage) return false
  try {
    if (text === '') storage.removeItem(keyOf(dogId))
    else storage.setItem(keyOf(dogId), text)
    return true
  } catch {
    // Full, or refused in a private window.
    return false
  }
}
