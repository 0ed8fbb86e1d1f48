import { ApiError } from './problem'
import { onSignedIn } from './people/sign-in-moment'

/**
 * One thing loaded from the server: its value, or why it is not there. A newer load cancels the
 * older one, and nothing changes after `dispose`.
 */
export class Resource<T> {
  value = $state.raw<T | undefined>(undefined)
  error = $state.raw<ApiError | null>(null)
  loading = $state(true)
  /** Tries in a row that did not work. */
  failures = 0
  readonly #load: (signal: AbortSignal) => Promise<T>
  #abort: AbortController | null = null

  constructor(load: (signal: AbortSignal) => Promise<T>) {
    this.#load = load
  }

  async reload(): Promise<void> {
    this.#abort?.abort()
    const abort = new AbortController()
    this.#abort = abort
    this.loading = true
    try {
      const value = await this.#load(abort.signal)
      if (abort.signal.aborted) return
      this.value = value
      this.error = null
      this.failures = 0
    } catch (cause) {
      if (abort.signal.aborted) return
      this.failures++
      this.error = cause instanceof ApiError ? cause : new ApiError(String(cause), { cause })
    }
    this.loading = false
  }

  dispose() {
    this.#abort?.abort()
  }
}

const FIRST_RETRY_MS = 2000
const LONGEST_RETRY_MS = 30_000

/**
 * Loads when the component appears, again when the network is back, when somebody signed in or, after what may
 * pass, after 2 s and ever longer up to 30 s, and stops when it goes.
 */
export function loadWhileShown(...resources: Resource<unknown>[]) {
  for (const resource of resources) retryByItself(resource)
  $effect(() => {
    for (const resource of resources) void resource.reload()
    const again = () => {
      for (const resource of resources) if (resource.error) void resource.reload()
    }
    window.addEventListener('online', again)
    const removeSignedIn = onSignedIn(again)
    return () => {
      window.removeEventListener('online', again)
      removeSignedIn()
      for (const resource of resources) resource.dispose()
    }
  })
}

function retryByItself(resource: Resource<unknown>) {
  $effect(() => {
    if (!resource.error?.passing) return
    const waitMs = Math.min(LONGEST_RETRY_MS, FIRST_RETRY_MS * 2 ** Math.min(resource.failures - 1, 10))
    const timer = setTimeout(() => void resource.reload(), waitMs)
    return () => clearTimeout(timer)
  })
}

/** Loads again at an interval, which may change, while the page is visible. */
export function reloadEvery(everyMs: () => number, resource: Resource<unknown>) {
  $effect(() => {
    const timer = setInterval(() => {
      if (document.visibilityState === 'visible' && navigator.onLine) void resource.reload()
    }, everyMs())
    return () => clearInterval(timer)
  })
}
