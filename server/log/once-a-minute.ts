const MINUTE_MS = 60_000
const MAX_KEPT = 10_000

/** Says once a minute of each thing that it happened: whoever floods the server must not flood its log. */
export class OnceAMinute {
  readonly #toldAtMs = new Map<string, number>()
  readonly #nowMs: () => number

  constructor(nowMs: () => number = Date.now) {
    this.#nowMs = nowMs
  }

  /** True when nobody asked for this within the last minute. */
  isNew(what: string): boolean {
    const nowMs = this.#nowMs()
    const before = this.#toldAtMs.get(what)
    if (before !== undefined && nowMs - before < MINUTE_MS) return false
    this.#toldAtMs.delete(what)
    this.#toldAtMs.set(what, nowMs)
    // The oldest goes: it is the first.
    if (this.#toldAtMs.size > MAX_KEPT) this.#toldAtMs.delete(this.#toldAtMs.keys().next().value!)
    return true
  }
}
