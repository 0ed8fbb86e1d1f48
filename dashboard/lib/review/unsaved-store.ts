import { browserStorage } from '../preferences.svelte'

/** Something that is not on the server yet. */
export interface Unsaved {
  /** When it was last changed, ISO 8601. */
  readonly at: string
}

/** Keeps what is unsaved in this browser until it is saved, so that a page that closes loses none of it. */
export class UnsavedStore<T extends Unsaved> {
  readonly #prefix: string
  readonly #own: string
  readonly #isKind: (value: T) => boolean
  readonly #storage: Storage | null

  /**
   * @param prefix names the kind and its session
   * @param page names this page: two pages on one session keep theirs apart
   * @param isKind what was read is what was written
   */
  constructor(prefix: string, page: string, isKind: (value: T) => boolean, storage = browserStorage()) {
    this.#prefix = prefix
    this.#own = prefix + page
    this.#isKind = isKind
    this.#storage = storage
  }

  /** True when it is kept; false where the browser keeps nothing, or is full. */
  put(value: T): boolean {
    try {
      this.#storage?.setItem(this.#own, JSON.stringify(value))
      return this.#storage !== null
    } catch {
      // Full: the page still has it, and says that it is not saved.
      return false
    }
  }

  forget() {
    this.#storage?.removeItem(this.#own)
  }

  /** What earlier pages left, oldest first. */
  left(): T[] {
    return this.#othersKeys()
      .flatMap((key) => this.#read(key))
      .sort((a, b) => Date.parse(a.at) - Date.parse(b.at))
  }

  forgetLeft() {
    for (const key of this.#othersKeys()) this.#storage?.removeItem(key)
  }

  #othersKeys(): string[] {
    return keysFrom(this.#storage, this.#prefix).filter((key) => key !== this.#own)
  }

  #read(key: string): T[] {
    try {
      const value = JSON.parse(this.#storage?.getItem(key) ?? '') as T
      return !Number.isNaN(Date.parse(value.at)) && this.#isKind(value) ? [value] : []
    } catch {
      // Cut off or not of ours: nothing can be made of it.
      return []
    }
  }
}

function keysFrom(storage: Storage | null, prefix: string): string[] {
  const keys = Array.from({ length: storage?.length ?? 0 }, (_, k) => storage?.key(k) ?? '')
  return keys.filter((key) => key.startsWith(prefix))
}

export const unsavedEditsPrefix = (sessionId: string): string => `swaybook.unsaved-edits.${sessionId}.`
export const unsavedNotesPrefix = (sessionId: string): string => `swaybook.unsaved-notes.${sessionId}.`

/** The session is deleted: nothing of it stays on this device. */
export function forgetUnsaved(sessionId: string, storage = browserStorage()) {
  for (const prefix of [unsavedEditsPrefix(sessionId), unsavedNotesPrefix(sessionId)]) {
    for (const key of keysFrom(storage, prefix)) storage?.removeItem(key)
  }
}
