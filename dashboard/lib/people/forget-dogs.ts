import type { PageMessage } from '../../service-worker/sw'
import { browserStorage } from '../preferences.svelte'
import { forgetKeptAnswers } from '../this-device'

/** What this browser remembers of single dogs and sessions; units, sounds, keys and layouts are of nobody. */
const OF_DOGS = [
  'swaybook.first-steps.',
  'swaybook.first-plan.',
  'swaybook.hold-target.',
  'swaybook.report-questions.',
  'swaybook.roles',
  'swaybook.unsaved-edits.',
  'swaybook.unsaved-notes.',
] as const

/** Changes to sessions that are in this browser alone. */
export function unsavedChanges(storage = browserStorage()): number {
  return keys(storage).filter((key) => /^swaybook\.unsaved-(edits|notes)\./.test(key)).length
}

/**
 * Takes from this device what it kept of dogs: answers of the server, and what was typed about them. Recordings
 * that are not on the server yet lie elsewhere and stay.
 */
export async function forgetDogsOfThisDevice(storage = browserStorage()): Promise<void> {
  for (const key of keys(storage)) {
    if (OF_DOGS.some((prefix) => key.startsWith(prefix))) storage?.removeItem(key)
  }
  // An answer that is under way now is not kept afterwards either.
  const message: PageMessage = { type: 'forget' }
  const { serviceWorker } = navigator as Partial<Navigator>
  serviceWorker?.controller?.postMessage(message)
  await forgetKeptAnswers()
}

const keys = (storage: Storage | null) =>
  Array.from({ length: storage?.length ?? 0 }, (_, k) => storage?.key(k) ?? '')
