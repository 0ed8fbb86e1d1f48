import type { Timers } from './timers'

/** Without a packet for so long, nobody can judge a hold any more. */
export const STALLED_AFTER_MS = 1500
/** Without a packet for so long, the link is dropped: no browser tells that a subscription died. */
export const DROPPED_AFTER_MS = 4000
/** A timer that comes so late tells that the page slept, not that the sensor did. */
const LATE_MS = 1000
/** What a page that woke up gets to hand out the packets that waited. */
const GRACE_MS = 250

export interface SilenceHandlers {
  onStalled(): void
  onDropped(): void
}

/** Watches that packets keep coming, by the clock of the window. */
export class SilenceWatch {
  readonly #timers: Timers
  readonly #handlers: SilenceHandlers
  #heardMs = 0
  #stalled = false
  #forgiven = false
  #cancel: () => void = () => {}

  constructor(timers: Timers, handlers: SilenceHandlers) {
    this.#timers = timers
    this.#handlers = handlers
  }

  start() {
    this.#heardMs = this.#timers.nowMs()
    this.#arm(STALLED_AFTER_MS)
  }

  stop() {
    this.#cancel()
  }

  heard(nowMs: number) {
    this.#heardMs = nowMs
    this.#forgiven = false
    this.#stalled = false
  }

  #arm(ms: number) {
    const dueMs = this.#timers.nowMs() + ms
    this.#cancel = this.#timers.after(ms, () => this.#judge(dueMs))
  }

  #judge(dueMs: number) {
    const nowMs = this.#timers.nowMs()
    if (nowMs - dueMs > LATE_MS && !this.#forgiven) {
      this.#forgiven = true
      return this.#arm(GRACE_MS)
    }
    const silentMs = nowMs - this.#heardMs
    if (silentMs >= DROPPED_AFTER_MS) return this.#handlers.onDropped()
    if (silentMs >= STALLED_AFTER_MS && !this.#stalled) {
      this.#stalled = true
      this.#handlers.onStalled()
    }
    this.#arm((this.#stalled ? DROPPED_AFTER_MS : STALLED_AFTER_MS) - silentMs)
  }
}
