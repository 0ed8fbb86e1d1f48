import type { NewSession } from '#protocol/resources'
import { reconnectDelayMs } from '../lib/backoff'
import { errorOfResponse } from '../lib/problem'
import type { SocketStatus } from '../lib/socket'

/** A request without an answer for this long is given up and tried again. */
const ANSWER_MS = 15_000
/** Answers that a later attempt may change, 401 once somebody signed in; every other refusal is final. */
const TRY_AGAIN: readonly number[] = [401, 408, 425, 429]

export interface SessionOpenerHandlers {
  onStatus(status: SocketStatus): void
  onOpened(): void
  onRefused(message: string): void
}

export interface SessionOpenerOptions {
  fetch?: typeof fetch
  random?: () => number
}

/**
 * Opens a session on the server under the id this device gave it, and tries until there is an
 * answer: the same id again opens nothing new, so an answer that got lost costs nothing.
 */
export class SessionOpener {
  readonly #url: string
  readonly #session: NewSession
  readonly #handlers: SessionOpenerHandlers
  readonly #fetch: typeof fetch
  readonly #random: () => number
  #attempt = 0
  #timer: ReturnType<typeof setTimeout> | undefined
  #underWay = false
  #closed = false

  constructor(
    serverUrl: string,
    session: NewSession,
    handlers: SessionOpenerHandlers,
    { fetch: request = (input, init) => fetch(input, init), random = Math.random }: SessionOpenerOptions = {},
  ) {
    this.#url = new URL('/api/sessions', serverUrl).href
    this.#session = session
    this.#handlers = handlers
    this.#fetch = request
    this.#random = random
  }

  start() {
    void this.#try()
  }

  retryNow() {
    clearTimeout(this.#timer)
    void this.#try()
  }

  close() {
    this.#closed = true
    clearTimeout(this.#timer)
  }

  async #try() {
    if (this.#closed || this.#underWay) return
    this.#underWay = true
    this.#handlers.onStatus('connecting')
    const refusal = await this.#ask()
    this.#underWay = false
    if (this.#closed) return
    if (refusal === 'try again') {
      this.#handlers.onStatus('waiting to reconnect')
      this.#timer = setTimeout(() => void this.#try(), reconnectDelayMs(this.#attempt++, this.#random))
      return
    }
    this.#closed = true
    if (refusal === null) this.#handlers.onOpened()
    else this.#handlers.onRefused(refusal.message)
  }

  /** Null when the session is open. */
  async #ask(): Promise<null | 'try again' | Error> {
    try {
      const response = await this.#fetch(this.#url, {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify(this.#session),
        signal: AbortSignal.timeout(ANSWER_MS),
      })
      if (response.ok) return null
      if (response.status >= 500 || TRY_AGAIN.includes(response.status)) return 'try again'
      return errorOfResponse(response.status, await response.text())
    } catch {
      // No network, no server, or no answer in time: all of them may pass.
      return 'try again'
    }
  }
}
