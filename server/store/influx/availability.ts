import { setTimeout as timer } from 'node:timers'
import type { InfluxError } from './influx-error.ts'

/** A wrong password will not be right in a second. */
const DENIED_RETRY_MS = 60_000

export interface AvailabilityTimes {
  readonly firstRetryMs: number
  readonly longestRetryMs: number
}

/** Whether InfluxDB takes samples, since when not, and when to try again. */
export class Availability {
  readonly #times: AvailabilityTimes
  readonly #onRetry: () => void
  readonly #onBack: () => void
  #since: Date | null = null
  #problem: string | null = null
  #failures = 0
  #timer: NodeJS.Timeout | null = null
  #closed = false

  constructor(times: AvailabilityTimes, onRetry: () => void, onBack: () => void) {
    this.#times = times
    this.#onRetry = onRetry
    this.#onBack = onBack
  }

  get isOut(): boolean {
    return this.#since !== null
  }

  get since(): string | null {
    return this.#since?.toISOString() ?? null
  }

  get problem(): string | null {
    return this.#problem
  }

  failed(error: InfluxError): void {
    this.#since ??= new Date()
    this.#problem = error.message
    this.#failures++
    if (this.#closed || this.#timer) return
    this.#timer = timer(() => this.#retry(), this.#delayMs(error))
    this.#timer.unref()
  }

  recovered(): void {
    this.#failures = 0
    this.#stopTimer()
    if (!this.#since) return
    this.#since = null
    this.#problem = null
    this.#onBack()
  }

  close(): void {
    this.#closed = true
    this.#stopTimer()
  }

  #retry(): void {
    this.#timer = null
    this.#onRetry()
  }

  #stopTimer(): void {
    if (this.#timer) clearTimeout(this.#timer)
    this.#timer = null
  }

  #delayMs({ failure, retryAfterMs }: InfluxError): number {
    const { firstRetryMs, longestRetryMs } = this.#times
    if (retryAfterMs !== null) return retryAfterMs
    if (failure === 'denied') return Math.min(DENIED_RETRY_MS, 2 * longestRetryMs)
    const doubled = Math.min(firstRetryMs * 2 ** (this.#failures - 1), longestRetryMs)
    // Servers that lost the same InfluxDB must not all return at once.
    return doubled * (0.75 + Math.random() / 2)
  }
}
