/** Allows `ratePerS` units a second on average and `burst` at once. */
export class TokenBucket {
  readonly #ratePerS: number
  readonly #burst: number
  #level: number
  #atMs: number

  constructor(ratePerS: number, burst: number, nowMs: number) {
    this.#ratePerS = ratePerS
    this.#burst = burst
    this.#level = burst
    this.#atMs = nowMs
  }

  /** Takes one unit and gives how long to wait before the next, ms: 0 while within the limit. */
  take(nowMs: number): number {
    const refilled = this.#level + ((nowMs - this.#atMs) / 1000) * this.#ratePerS
    this.#level = Math.min(this.#burst, refilled) - 1
    this.#atMs = nowMs
    return this.#level >= 0 ? 0 : Math.ceil((-this.#level / this.#ratePerS) * 1000)
  }
}
