import type { SessionEdits } from '#protocol/session-review'
import { unsavedEditsPrefix, UnsavedStore } from './unsaved-store'

/** Edits that are not on the server yet, and the document they were made on. */
export interface UnsavedEdits {
  readonly base: SessionEdits
  readonly doc: SessionEdits
  /** When the last of them was made, ISO 8601. */
  readonly at: string
}

const isDoc = (doc: SessionEdits | undefined) => Array.isArray(doc?.marks) && Array.isArray(doc.holds)

/** Keeps unsaved edits in this browser until they are saved, so that a page that closes loses none. */
export class UnsavedEditsStore extends UnsavedStore<UnsavedEdits> {
  constructor(sessionId: string, page: string, storage?: Storage | null) {
    super(unsavedEditsPrefix(sessionId), page, ({ base, doc }) => isDoc(base) && isDoc(doc), storage)
  }

  /** True when they are kept; false where the browser keeps nothing, or is full. */
  keep(base: SessionEdits, doc: SessionEdits, atMs: number): boolean {
    return this.put({ base, doc, at: new Date(atMs).toISOString() })
  }
}
