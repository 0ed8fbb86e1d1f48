import type { LiveStop } from '#signal/live/live-types'
import { stopKey } from './stop-words'

/** Which stop cues somebody has seen on this screen. Seen or not, a cue stays on the screen. */
export class StopCues {
  #seen = $state.raw<readonly string[]>([])
  readonly #stops: () => readonly LiveStop[]
  /** Not seen yet, newest last. */
  readonly open: readonly LiveStop[] = $derived.by(() =>
    this.#stops().filter((stop) => !this.#seen.includes(stopKey(stop))),
  )

  constructor(stops: () => readonly LiveStop[]) {
    this.#stops = stops
  }

  /** Somebody saw all that is open. */
  see() {
    this.#seen = [...this.#seen, ...this.open.map(stopKey)]
  }
}
