/** Time as the connection sees it; a test turns the hands. */
export interface Timers {
  nowMs(): number
  /** Calls `what` after `ms`; the returned function cancels it. */
  after(ms: number, what: () => void): () => void
}

export const windowTimers: Timers = {
  nowMs: () => performance.now(),
  after(ms, what) {
    const timer = setTimeout(what, ms)
    return () => clearTimeout(timer)
  },
}
