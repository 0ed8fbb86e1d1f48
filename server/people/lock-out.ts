const FREE_FAILURES = 5
const FIRST_WAIT_MS = 60_000
const LONGEST_WAIT_MS = 15 * 60_000
/** A name nobody failed with for so long is new again. */
const FORGET_MS = 24 * 3_600_000
const MAX_NAMES = 10_000

interface Failures {
  count: number
  lastMs: number
  untilMs: number
}

/**
 * Holds back guesses at one account: after five failures a minute, then twice as long each time, at most fifteen.
 * Names without an account are counted alike, so that a lock tells nothing. In memory: whoever could restart the
 * server to forget it has no need to guess.
 */
export class LockOut {
  readonly #byName = new Map<string, Failures>()
  readonly #nowMs: () => number

  constructor(nowMs: () => number = Date.now) {
    this.#nowMs = nowMs
  }

  /** Seconds until the next attempt is looked at, 0 when it is at once. */
  waitS(name: string): number {
    const failures = this.#byName.get(name)
    return failures ? Math.max(0, Math.ceil((failures.untilMs - this.#nowMs()) / 1000)) : 0
  }

  /**
   * Counts an attempt before it is looked at, so that many at once gain nothing; `succeeded` or `undo` takes it
   * back. True when it locks the name, should it fail.
   */
  attempted(name: string): boolean {
    const nowMs = this.#nowMs()
    const known = this.#byName.get(name)
    const count = known && nowMs - known.lastMs < FORGET_MS ? known.count + 1 : 1
    const waitMs =
      count < FREE_FAILURES
        ? 0
        : Math.min(FIRST_WAIT_MS * 2 ** Math.min(count - FREE_FAILURES, 10), LONGEST_WAIT_MS)
    this.#byName.delete(name)
    this.#byName.set(name, { count, lastMs: nowMs, untilMs: nowMs + waitMs })
    // The oldest goes: a flood of names must not fill the memory.
    if (this.#byName.size > MAX_NAMES) this.#byName.delete(this.#byName.keys().next().value!)
    return waitMs > 0
  }

  /** The attempt was neither right nor wrong. */
  undo(name: string): void {
    const known = this.#byName.get(name)
    if (!known) return
    if (known.count === 1) this.#byName.delete(name)
    else this.#byName.set(name, { ...known, count: known.count - 1, untilMs: 0 })
  }

  succeeded(name: string): void {
    this.#byName.delete(name)
  }
}
