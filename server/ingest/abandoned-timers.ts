/** Calls `expired` once for every session whose sender stayed away for `afterMs`. */
export class AbandonedTimers {
  readonly #afterMs: number
  readonly #expired: (session: string) => void
  readonly #timers = new Map<string, NodeJS.Timeout>()

  constructor(afterMs: number, expired: (session: string) => void) {
    this.#afterMs = afterMs
    this.#expired = expired
  }

  start(session: string): void {
    this.stop(session)
    const timer = setTimeout(() => {
      this.#timers.delete(session)
      this.#expired(session)
    }, this.#afterMs)
    this.#timers.set(session, timer.unref())
  }

  stop(session: string): void {
    clearTimeout(this.#timers.get(session))
    this.#timers.delete(session)
  }

  close(): void {
    for (const timer of this.#timers.values()) clearTimeout(timer)
    this.#timers.clear()
  }
}
