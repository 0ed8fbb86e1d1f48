import type { Timers } from './timers'

/** An operation that did not come back in time. */
export class GattTimeout extends Error {
  constructor(what: string, limitMs: number) {
    super(`${what} took longer than ${limitMs / 1000} s`)
  }
}

/** The link was closed while the operation was waiting or under way. */
export class GattClosed extends Error {
  constructor() {
    super('the link was closed')
  }
}

/**
 * The operations of one link, one at a time: browsers answer "GATT operation already in progress" to a
 * second one. Each is bounded in time, because a promise of the API may stay pending for ever.
 * An operation that ran out of time may still be under way in the browser; `gatt.disconnect()` ends it.
 */
export class GattQueue {
  readonly #timers: Timers
  #last: Promise<unknown> = Promise.resolve()
  #closed = false
  #abandon: () => void = () => {}

  constructor(timers: Timers) {
    this.#timers = timers
  }

  run<T>(what: string, limitMs: number, operation: () => Promise<T>): Promise<T> {
    const turn = this.#last.then(() => this.#bounded(what, limitMs, operation))
    this.#last = turn.catch(() => {}) // the caller has the failure; the next in line only waits
    return turn
  }

  /** Rejects what waits and what is under way; nothing runs afterwards. */
  close() {
    this.#closed = true
    this.#abandon()
  }

  #bounded<T>(what: string, limitMs: number, operation: () => Promise<T>): Promise<T> {
    if (this.#closed) return Promise.reject(new GattClosed())
    return new Promise<T>((resolve, reject) => {
      const cancel = this.#timers.after(limitMs, () => reject(new GattTimeout(what, limitMs)))
      this.#abandon = () => {
        cancel()
        reject(new GattClosed())
      }
      const started = (async () => operation())()
      started.then(resolve, reject).finally(cancel)
    })
  }
}
