import type { DoseAdvice } from '#protocol/dose-types'
import type { Dog, SessionSummary } from '#protocol/resources'
import { listNewestSessions, loadDose } from './api'
import { ownTimeZone } from './check-in-words'

export interface DogNow {
  newest: readonly SessionSummary[]
  /** What the next session should mind: less or ask, never more. */
  advice: readonly DoseAdvice[]
}

/** Enough to find the last session that was neither simulated nor still running. */
const NEWEST = 12

/**
 * What matters now of each dog that has sessions, for the first screen. What cannot be read now is left out: the
 * screen shows the dog all the same, and its own screens say what is missing.
 */
export class DogsNow {
  /** By the id of the dog. */
  of = $state.raw<Readonly<Record<string, DogNow>>>({})
  #abort = new AbortController()

  async load(dogs: readonly Dog[]) {
    this.#abort.abort()
    const { signal } = (this.#abort = new AbortController())
    const answers = await Promise.all(
      dogs
        .filter(({ sessions }) => sessions > 0)
        .map(async ({ id }): Promise<[string, DogNow]> => {
          const [newest, dose] = await Promise.allSettled([
            listNewestSessions(id, NEWEST, signal),
            loadDose(id, 1, ownTimeZone(), signal),
          ])
          return [
            id,
            {
              newest: newest.status === 'fulfilled' ? newest.value : [],
              advice: dose.status === 'fulfilled' ? dose.value.advice : [],
            },
          ]
        }),
    )
    if (!signal.aborted) this.of = Object.fromEntries(answers)
  }

  stop() {
    this.#abort.abort()
  }
}
