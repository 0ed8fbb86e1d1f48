/**
 * Wall time that does not jump: the offset between the wall clock and the steady clock of
 * `performance.now()`, taken once. A wall clock set anew during a recording moves nothing.
 */
export class Anchor {
  readonly #offsetMs: number

  constructor(wallMs = Date.now(), steadyMs = performance.now()) {
    this.#offsetMs = wallMs - steadyMs
  }

  /** UTC µs of an instant of `performance.now()`, ms; now by default. */
  utcUs(steadyMs = performance.now()): number {
    return Math.round((steadyMs + this.#offsetMs) * 1000)
  }
}
