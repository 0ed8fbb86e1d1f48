import type { Dog, SessionSummary } from '#protocol/resources'
import { listNewestSessions } from './api'

/** Enough to find the last session that was neither simulated nor still running. */
const NEWEST = 12

/**
 * The newest sessions of each dog, for the first screen. A dog whose sessions cannot be read now is left out:
 * the screen shows the dog all the same, and the list of dogs says when the server is away.
 */
export class DogsNow {
  /** By the id of the dog. */
  newest = $state.raw<Readonly<Record<string, readonly SessionSummary[]>>>({})
  #abort = new AbortController()

  async load(dogs: readonly Dog[]) {
    this.#abort.abort()
    const { signal } = (this.#abort = new AbortController())
    const asked = dogs.filter(({ sessions }) => sessions > 0)
    const answers = await Promise.allSettled(asked.map(({ id }) => listNewestSessions(id, NEWEST, signal)))
    if (signal.aborted) return
    this.newest = Object.fromEntries(
      answers.flatMap((answer, k) => (answer.status === 'fulfilled' ? [[asked[k].id, answer.value]] : [])),
    )
  }

  stop() {
    this.#abort.abort()
  }
}
