import { browserStorage } from './preferences.svelte'

/**
 * Something this browser remembers under a name until it is forgotten: a form that is being filled in, an
 * answer nobody else needs. What was kept by an older version counts only where name and kind are still known.
 */
export class Kept<T extends object> {
  readonly #key: string
  value: T

  constructor(key: string, initial: T) {
    this.#key = `swaybook.${key}`
    this.value = $state({ ...initial, ...known(browserStorage()?.getItem(this.#key) ?? null, initial) })
  }

  /** Writes it down as it is now; call it in an effect, which then follows every change. */
  keep() {
    const text = JSON.stringify(this.value)
    try {
      browserStorage()?.setItem(this.#key, text)
    } catch (error) {
      // Over the quota: it lasts as long as this page, which is all the browser allows.
      if (!(error instanceof DOMException)) throw error
    }
  }

  forget() {
    browserStorage()?.removeItem(this.#key)
  }
}

/** Of a kept text, the fields that `initial` has too, of the same kind or null. */
function known<T extends object>(text: string | null, initial: T): Partial<T> {
  if (text === null) return {}
  let kept: unknown
  try {
    kept = JSON.parse(text)
  } catch {
    // Not ours, or cut off: begin anew.
    return {}
  }
  if (typeof kept !== 'object' || kept === null) return {}
  return Object.fromEntries(
    Object.entries(kept).filter(([name, value]) => {
      if (!Object.hasOwn(initial, name)) return false
      const from = (initial as Record<string, unknown>)[name]
      return from === null || value === null || typeof value === typeof from
    }),
  ) as Partial<T>
}
