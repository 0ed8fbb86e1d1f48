import { ALWAYS_QUIET_MS2 } from '#signal/hold/reference'
import type { LiveWindow } from '#signal/live/live-types'

/** Length of the quiet stand, s. */
export const QUIET_STAND_S = 10
/**
 * Sway below this is still enough, m/s²: the motion that the search for a floor reference always
 * counts as quiet. Common practice, no source.
 */
export const STILL_LIMIT_MS2 = ALWAYS_QUIET_MS2
/** Above this many limits the stand begins anew; between, its count waits. */
const TOO_MUCH_LIMITS = 2
/** A stand that waits longer than this begins anew, s. */
const LONGEST_WAIT_S = 3
/** A window with fewer of its samples cannot say that the dog stands still. */
const LEAST_COVERAGE = 0.8

export type Stillness = 'still enough' | 'a little too much' | 'too much' | 'no signal'

/** How still the dog stands by the newest window. */
export function stillnessOf(window: Pick<LiveWindow, 'state' | 'swayMs2' | 'coverage'> | null): Stillness {
  if (!window || window.state === 'no signal' || window.coverage < LEAST_COVERAGE) return 'no signal'
  if (window.swayMs2 === null) return 'no signal'
  if (window.swayMs2 <= STILL_LIMIT_MS2) return 'still enough'
  return window.swayMs2 <= STILL_LIMIT_MS2 * TOO_MUCH_LIMITS ? 'a little too much' : 'too much'
}

export type StandEvent =
  /** The stand begins, or begins anew, at this second of the stream: mark it. */
  { type: 'start'; atS: number } | { type: 'end'; atS: number } | { type: 'moved' }

/**
 * Watches one quiet stand, window by window: counts seconds of stillness, waits while the dog moves a
 * little, begins anew when it moves too much or for long, and ends after 10 s of stillness.
 */
export class StillStand {
  /** Seconds of stillness so far. */
  countedS = 0
  done = false
  #beforeS: number
  #startPending = false
  #waitedS = 0

  /** The person says that the dog stands square at `atS`; that is where the first start mark goes. */
  constructor(atS: number) {
    this.#beforeS = atS
  }

  take(window: Pick<LiveWindow, 'state' | 'swayMs2' | 'coverage' | 'endS'>): StandEvent | null {
    const stepS = window.endS - this.#beforeS
    if (this.done || stepS <= 0) return null
    this.#beforeS = window.endS
    const stillness = stillnessOf(window)
    if (stillness === 'still enough') {
      this.#waitedS = 0
      if (this.#startPending) {
        this.#startPending = false
        return { type: 'start', atS: window.endS }
      }
      this.countedS += stepS
      if (this.countedS < QUIET_STAND_S - 1e-9) return null
      this.done = true
      return { type: 'end', atS: window.endS }
    }
    this.#waitedS += stepS
    const over = stillness !== 'a little too much' || this.#waitedS > LONGEST_WAIT_S
    if (!over || this.#startPending) return null
    this.countedS = 0
    this.#startPending = true
    return { type: 'moved' }
  }
}
