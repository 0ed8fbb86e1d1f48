import type { SessionEdits } from '#protocol/session-review'
import { sameEdits } from './edit-document'
import type { EditChange } from './edit-document'

/** One step back or forward: the document to go to, and what that takes back or does again. */
interface Step {
  readonly doc: SessionEdits
  readonly words: string
  readonly subject: string
  readonly atMs: number
}

/** The document now, with those before it (newest last) and those taken back (next first). */
export interface EditHistory {
  readonly past: readonly Step[]
  readonly present: SessionEdits
  readonly future: readonly Step[]
}

/** Presses of a key in succession on the same thing are one step, ms. */
const JOINED_MS = 1500
const MOST_STEPS = 500

export const startHistory = (present: SessionEdits): EditHistory => ({ past: [], present, future: [] })

/** Goes on from here; what had been taken back can no longer be done again. */
export function changed(history: EditHistory, change: EditChange, atMs: number): EditHistory {
  if (sameEdits(history.present, change.doc)) return history
  const { words, subject, doc } = change
  const last = history.past.at(-1)
  const joins = last && last.subject === subject && atMs - last.atMs < JOINED_MS
  if (!joins) {
    const past = [...history.past, { doc: history.present, words, subject, atMs }].slice(-MOST_STEPS)
    return { past, present: doc, future: [] }
  }
  const before = history.past.slice(0, -1)
  // Back where it was: there is nothing to undo.
  if (sameEdits(last.doc, doc)) return { past: before, present: last.doc, future: [] }
  return { past: [...before, { ...last, words, atMs }], present: doc, future: [] }
}

export function undone(history: EditHistory): EditHistory {
  const last = history.past.at(-1)
  if (!last) return history
  return {
    past: history.past.slice(0, -1),
    present: last.doc,
    future: [{ ...last, doc: history.present }, ...history.future],
  }
}

export function redone(history: EditHistory): EditHistory {
  const [next, ...later] = history.future
  if (!next) return history
  // Not joined with what comes after: a step that was done again stands for itself.
  return {
    past: [...history.past, { ...next, doc: history.present, atMs: -Infinity }],
    present: next.doc,
    future: later,
  }
}
