import type { Timers } from '../../../dashboard/sources/bluetooth/timers.ts'

/** A clock under the test's control: timers fire in order, and promises settle in between. */
export class FakeTime implements Timers {
  #nowMs = 0
  #due: { atMs: number; what: () => void }[] = []

  nowMs() {
    return this.#nowMs
  }

  after(ms: number, what: () => void) {
    const timer = { atMs: this.#nowMs + ms, what }
    this.#due.push(timer)
    return () => void (this.#due = this.#due.filter((one) => one !== timer))
  }

  get waiting() {
    return this.#due.length
  }

  async advance(ms: number) {
    const untilMs = this.#nowMs + ms
    await settled()
    for (;;) {
      const next = this.#due.filter(({ atMs }) => atMs <= untilMs).sort((a, b) => a.atMs - b.atMs)[0]
      if (!next) break
      this.#due = this.#due.filter((one) => one !== next)
      this.#nowMs = Math.max(this.#nowMs, next.atMs)
      next.what()
      await settled()
    }
    this.#nowMs = untilMs
  }

  /** The page sleeps: time passes, and timers that fell due fire late, in one go. */
  async sleep(ms: number) {
    this.#nowMs += ms
    await this.advance(0)
  }
}

/** Every promise that can settle has settled. */
export function settled(): Promise<void> {
  return new Promise((resolve) => setImmediate(resolve))
}
