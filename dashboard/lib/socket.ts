import { reconnectDelayMs } from './backoff'
import { onSignedIn } from './people/sign-in-moment'

export type SocketStatus = 'connecting' | 'open' | 'waiting to reconnect' | 'closed'

/** The part of WebSocket used here, so that tests can pass a fake. */
export interface SocketLike {
  binaryType: string
  readonly bufferedAmount: number
  onopen: (() => void) | null
  onmessage: ((event: { data: unknown }) => void) | null
  onclose: ((event: { code: number; reason: string }) => void) | null
  onerror: (() => void) | null
  send(data: string | Uint8Array<ArrayBuffer>): void
  close(code?: number, reason?: string): void
}

export interface SocketHandlers {
  /** The connection is up (again). */
  onOpen(): void
  onMessage(message: unknown): void
  onStatus(status: SocketStatus): void
  /** The server refused for good (see `FINAL_CLOSE_CODES`): no further attempt follows. */
  onRefused(code: number, reason: string): void
  /** A refusal that ends when somebody signs in: it is tried again like a lost connection. */
  isPassing?(reason: string): boolean
}

export interface SocketOptions {
  create?: (url: string) => SocketLike
  random?: () => number
  /** A ping is sent this often; twice this long without any message counts as dead. */
  heartbeatMs?: number
  /** An attempt that is not open after this long is given up. */
  openWithinMs?: number
}

/** Whether a refusal, by its code, may end when somebody signs in; another attempt tells. */
export const endsBySigningIn = (code: string | undefined): boolean =>
  code === 'SIGN_IN_FIRST' || code === 'ACCESS_ENDED'

/** After a refusal that may pass, ms. */
const AFTER_REFUSAL_MS = 10_000

/** Bad data, policy, too large, unauthorised, forbidden, not found, taken over: no use trying again. */
export const FINAL_CLOSE_CODES: readonly number[] = [1007, 1008, 1009, 4401, 4403, 4404, 4409]

/**
 * A WebSocket that comes back. Every attempt claims a generation number; an event of an older
 * attempt finds its number stale and does nothing, so a late close cannot tear down a newer socket.
 */
export class ReconnectingSocket {
  readonly #url: string
  readonly #handlers: SocketHandlers
  readonly #create: (url: string) => SocketLike
  readonly #random: () => number
  readonly #heartbeatMs: number
  readonly #openWithinMs: number
  #socket: SocketLike | null = null
  #open = false
  #generation = 0
  #attempt = 0
  #retryTimer: ReturnType<typeof setTimeout> | undefined
  #openTimer: ReturnType<typeof setTimeout> | undefined
  #heartbeatTimer: ReturnType<typeof setInterval> | undefined
  #heardSincePing = true
  #closed = false

  constructor(url: string, handlers: SocketHandlers, options: SocketOptions = {}) {
    this.#url = url
    this.#handlers = handlers
    this.#create = options.create ?? ((address) => new WebSocket(address) as SocketLike)
    this.#random = options.random ?? Math.random
    this.#heartbeatMs = options.heartbeatMs ?? 5000
    this.#openWithinMs = options.openWithinMs ?? 10_000
  }

  get bufferedBytes() {
    return this.#socket?.bufferedAmount ?? 0
  }

  get isOpen() {
    return this.#open
  }

  connect() {
    if (this.#closed) return
    const generation = ++this.#generation
    clearTimeout(this.#retryTimer)
    this.#dropSocket()
    this.#handlers.onStatus('connecting')
    const socket = this.#create(this.#url)
    this.#socket = socket
    socket.binaryType = 'arraybuffer'
    // A network that swallows everything never answers an attempt; browsers wait for minutes.
    this.#openTimer = setTimeout(() => {
      this.#generation++
      this.#lost(4000, 'no answer')
    }, this.#openWithinMs)
    socket.onopen = () => {
      if (generation !== this.#generation) return
      this.#open = true
      clearTimeout(this.#openTimer)
      this.#startHeartbeat()
      this.#handlers.onStatus('open')
      this.#handlers.onOpen()
    }
    socket.onmessage = (event) => {
      if (generation !== this.#generation) return
      this.#heardSincePing = true
      // Only a server that answers ends the back-off: one that accepts and drops must not be hammered.
      this.#attempt = 0
      if (typeof event.data === 'string') this.#handlers.onMessage(JSON.parse(event.data))
    }
    socket.onclose = (event) => {
      if (generation !== this.#generation) return
      this.#lost(event.code, event.reason)
    }
    // An error is always followed by a close event, which decides what happens.
    socket.onerror = () => {}
  }

  /** Tries at once instead of waiting; does nothing while connected. */
  retryNow() {
    if (!this.#closed && !this.#open) this.connect()
  }

  /** Sends text or bytes; false when not connected (the caller keeps what must not be lost). */
  send(data: object | Uint8Array<ArrayBuffer>): boolean {
    if (!this.#open || !this.#socket) return false
    this.#socket.send(data instanceof Uint8Array ? data : JSON.stringify(data))
    return true
  }

  close() {
    this.#closed = true
    this.#generation++
    clearTimeout(this.#retryTimer)
    this.#dropSocket()
    this.#handlers.onStatus('closed')
  }

  #dropSocket() {
    clearInterval(this.#heartbeatTimer)
    clearTimeout(this.#openTimer)
    this.#open = false
    const socket = this.#socket
    this.#socket = null
    socket?.close(1000)
  }

  #lost(code: number, reason: string) {
    this.#dropSocket()
    const isPassing = this.#handlers.isPassing?.(reason) ?? false
    if (FINAL_CLOSE_CODES.includes(code) && !isPassing) {
      this.#closed = true
      this.#generation++
      this.#handlers.onStatus('closed')
      this.#handlers.onRefused(code, reason)
      return
    }
    this.#handlers.onStatus('waiting to reconnect')
    // A refusal stands until somebody signs in, which is told: asking in between need not be often.
    const waitMs = isPassing ? AFTER_REFUSAL_MS : reconnectDelayMs(this.#attempt++, this.#random)
    this.#retryTimer = setTimeout(() => this.connect(), waitMs)
  }

  #startHeartbeat() {
    this.#heardSincePing = true
    this.#heartbeatTimer = setInterval(() => {
      if (!this.#heardSincePing) {
        // A half-open connection never closes by itself.
        this.#generation++
        this.#lost(4000, 'no answer')
        return
      }
      this.#heardSincePing = false
      this.send({ type: 'ping', sentAtUs: Math.round(performance.now() * 1000) })
    }, this.#heartbeatMs)
  }
}

/** ws:// or wss:// address of a path on the server that delivered the dashboard. */
export function socketUrl(path: string): string {
  const url = new URL(path, window.location.href)
  url.protocol = url.protocol === 'https:' ? 'wss:' : 'ws:'
  return url.href
}

/** Calls back when a retry is promising: the network is up again, the page came to the front, somebody signed in. */
export function onPromisingMoment(retry: () => void): () => void {
  const onVisible = () => {
    if (document.visibilityState === 'visible') retry()
  }
  window.addEventListener('online', retry)
  document.addEventListener('visibilitychange', onVisible)
  const removeSignedIn = onSignedIn(retry)
  return () => {
    removeSignedIn()
    window.removeEventListener('online', retry)
    document.removeEventListener('visibilitychange', onVisible)
  }
}
