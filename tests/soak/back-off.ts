import { setTimeout as sleep } from 'node:timers/promises'

const FIRST_MS = 100
const LONGEST_MS = 5000

/** Waits between attempts, longer each time; a random part of it, so that many do not come back at once. */
export class BackOff {
  #waitMs = FIRST_MS

  async wait(): Promise<void> {
    await sleep(Math.random() * this.#waitMs)
    this.#waitMs = Math.min(2 * this.#waitMs, LONGEST_MS)
  }

  reset(): void {
    this.#waitMs = FIRST_MS
  }
}
