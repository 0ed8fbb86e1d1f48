import { ApiError } from './problem'

/**
 * One thing loaded from the server: its value, or why it is not there. A newer load cancels the
 * older one, and nothing changes after `dispose`.
 */
export class Resource<T> {
  value = $state.raw<T | undefined>(undefined)
  error = $state.raw<ApiError | null>(null)
  loading = $state(true)
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
    } catch (cause) {
      if (abort.signal.aborted) return
      this.error = cause instanceof ApiError ? cause : new ApiError(String(cause), { cause })
    }
    this.loading = false
  }

  dispose() {
    this.#abort?.abort()
  }
}

/** Loads when the component appears, again when the network is back, and stops when it goes. */
export function loadWhileShown(...resources: Resource<unknown>[]) {
  $effect(() => {
    for (const resource of resources) void resource.reload()
    const onOnline = () => {
      for (const resource of resources) if (resource.error) void resource.reload()
    }
    window.addEventListener('online', onOnline)
    return () => {
      window.removeEventListener('online', onOnline)
      for (const resource of resources) resource.dispose()
    }
  })
}

/** Loads again at an interval while the page is visible. */
export function reloadEvery(everyMs: number, resource: Resource<unknown>) {
  $effect(() => {
    const timer = setInterval(() => {
      if (document.visibilityState === 'visible' && navigator.onLine) void resource.reload()
    }, everyMs)
    return () => clearInterval(timer)
  })
}
