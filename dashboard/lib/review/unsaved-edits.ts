import type { SessionEdits } from '#protocol/session-review'
import { browserStorage } from '../preferences.svelte'

/** Edits that are not on the server yet, and the document they were made on. */
export interface UnsavedEdits {
  readonly base: SessionEdits
  readonly doc: SessionEdits
  /** When the last of them was made, ISO 8601. */
  readonly at: string
}

/** Keeps unsaved edits in this browser until they are saved, so that a page that closes loses none. */
export class UnsavedEditsStore {
  readonly #prefix: string
  readonly #own: string
  readonly #storage: Storage | null

  /** @param page names this page: two pages on one session keep theirs apart */
  constructor(sessionId: string, page: string, storage: Storage | null = browserStorage()) {
    this.#prefix = `swaybook.unsaved-edits.${sessionId}.`
    this.#own = this.#prefix + page
    this.#storage = storage
  }

  /** True when they are kept; false where the browser keeps nothing, or is full. */
  keep(base: SessionEdits, doc: SessionEdits, atMs: number): boolean {
    const edits: UnsavedEdits = { base, doc, at: new Date(atMs).toISOString() }
    try {
      this.#storage?.setItem(this.#own, JSON.stringify(edits))
      return this.#storage !== null
    } catch {
      // Full: the page still has them, and says that they are not saved.
      return false
    }
  }

  forget() {
    this.#storage?.removeItem(this.#own)
  }

  /** What earlier pages left, oldest first. */
  left(): UnsavedEdits[] {
    return this.#othersKeys()
      .flatMap((key) => unsavedOf(this.#storage?.getItem(key) ?? ''))
      .sort((a, b) => Date.parse(a.at) - Date.parse(b.at))
  }

  forgetLeft() {
    for (const key of this.#othersKeys()) this.#storage?.removeItem(key)
  }

  #othersKeys(): string[] {
    if (!this.#storage) return []
    const { length } = this.#storage
    const keys = Array.from({ length }, (_, k) => this.#storage?.key(k) ?? '')
    return keys.filter((key) => key.startsWith(this.#prefix) && key !== this.#own)
  }
}

function unsavedOf(text: string): UnsavedEdits[] {
  try {
    const value = JSON.parse(text) as UnsavedEdits
    const isDoc = (doc: SessionEdits | undefined) => Array.isArray(doc?.marks) && Array.isArray(doc.holds)
    return isDoc(value.base) && isDoc(value.doc) && !Number.isNaN(Date.parse(value.at)) ? [value] : []
  } catch {
    // Cut off or not of ours: nothing can be made of it.
    return []
  }
}
