import type { HoldEdit, SessionEdits } from '#protocol/session-review'
import type { MarkKind } from '#signal/trace/trace'
import { markWords } from '../wording'
import type { ShownHold } from './shown-holds'
import { timeWords } from './time-words'

/**
 * What a person changes about a session. Every function gives a new document and leaves the one it was given
 * as it is, so that an undo is the document before.
 */
export interface EditChange {
  readonly doc: SessionEdits
  /** What was done, as the undo button names it: "hold 2 begins at 0:41.2". */
  readonly words: string
  /** What it was done to: changes to the same, one right after the other, are one step of undo. */
  readonly subject: string
}

export type EditedMark = SessionEdits['marks'][number]

/** Shorter holds are not kept by the measurement either, s. */
export const SHORTEST_HOLD_S = 1

/** "hands-off", or the words of a note. */
export const wordsOfMark = (mark: Pick<EditedMark, 'kind' | 'note'>): string =>
  mark.note ?? markWords[mark.kind] ?? mark.kind

export function addMark(doc: SessionEdits, mark: EditedMark): EditChange {
  const words = `${wordsOfMark(mark)} added at ${timeWords(mark.atS)}`
  return { doc: { ...doc, marks: [...doc.marks, mark] }, words, subject: `add ${mark.id}` }
}

export function moveMark(doc: SessionEdits, id: string, atS: number): EditChange {
  const mark = markOf(doc, id)
  const words = `${wordsOfMark(mark)} at ${timeWords(atS)}`
  return { doc: withMark(doc, { ...mark, atS }), words, subject: `mark ${id}` }
}

export function describeMark(doc: SessionEdits, id: string, kind: MarkKind, note: string | null): EditChange {
  const mark = { ...markOf(doc, id), kind, note }
  const words = `${wordsOfMark(mark)} in place of ${wordsOfMark(markOf(doc, id))} at ${timeWords(mark.atS)}`
  return { doc: withMark(doc, mark), words, subject: `words ${id}` }
}

export function removeMark(doc: SessionEdits, id: string): EditChange {
  const mark = markOf(doc, id)
  const words = `${wordsOfMark(mark)} at ${timeWords(mark.atS)} removed`
  return { doc: { ...doc, marks: doc.marks.filter((m) => m.id !== id) }, words, subject: `remove ${id}` }
}

/**
 * Puts one edge of a hold at a time. A hold that was found becomes one that a person set.
 * @param id of the correction, should it be the first one of this hold
 */
export function moveEdge(
  doc: SessionEdits,
  hold: ShownHold,
  side: 'from' | 'to',
  atS: number,
  id: string,
): EditChange {
  const span = { fromS: hold.fromS, toS: hold.toS, [side === 'from' ? 'fromS' : 'toS']: atS }
  const words = `${hold.name} ${side === 'from' ? 'begins' : 'ends'} at ${timeWords(atS)}`
  return { ...placed(doc, hold, span, id), words, subject: `${side} ${hold.setId ?? id}` }
}

/** Both edges at once, as typed. */
export function placeHold(
  doc: SessionEdits,
  hold: ShownHold,
  span: { fromS: number; toS: number },
  id: string,
): EditChange {
  const words = `${hold.name} from ${timeWords(span.fromS)} to ${timeWords(span.toS)}`
  return { ...placed(doc, hold, span, id), words, subject: `span ${hold.setId ?? id}` }
}

export function newHold(doc: SessionEdits, span: { fromS: number; toS: number }, id: string): EditChange {
  const edit: HoldEdit = { id, kind: 'set', ...span, reason: null }
  const words = `new hold from ${timeWords(span.fromS)} to ${timeWords(span.toS)}`
  return { doc: { ...doc, holds: [...doc.holds, edit] }, words, subject: `new ${id}` }
}

/** One hold in place of two neighbours and of the pause between them. */
export function joinHolds(doc: SessionEdits, first: ShownHold, second: ShownHold, id: string): EditChange {
  const gone = new Set([first.setId, second.setId])
  const edit: HoldEdit = { id, kind: 'set', fromS: first.fromS, toS: second.toS, reason: null }
  return {
    doc: { ...doc, holds: [...doc.holds.filter((e) => !gone.has(e.id)), edit] },
    words: `${first.name} and ${second.name} joined`,
    subject: `join ${id}`,
  }
}

export function leaveOut(doc: SessionEdits, hold: ShownHold, reason: string, id: string): EditChange {
  const { fromS, toS } = hold
  const edit: HoldEdit = { id, kind: 'leave out', fromS, toS, reason }
  return {
    doc: { ...doc, holds: [...doc.holds, edit] },
    words: `${hold.name} left out (${reason})`,
    subject: `out ${id}`,
  }
}

/** Takes back every "leave out" that reaches this hold. */
export function bringBack(doc: SessionEdits, hold: ShownHold): EditChange {
  const holds = doc.holds.filter((edit) => !(edit.kind === 'leave out' && coversMiddle(edit, hold)))
  return { doc: { ...doc, holds }, words: `${hold.name} counts again`, subject: `back ${hold.key}` }
}

/** One hold as the measurement finds it: takes back what a person set. */
export function asFound(doc: SessionEdits, hold: ShownHold): EditChange {
  const holds = doc.holds.filter((edit) => edit.id !== hold.setId)
  return { doc: { ...doc, holds }, words: `${hold.name} as it was found`, subject: `found ${hold.key}` }
}

export function allAsFound(doc: SessionEdits): EditChange {
  return { doc: { ...doc, holds: [] }, words: 'all holds as they were found', subject: 'found all' }
}

export const coversMiddle = (
  edit: Pick<HoldEdit, 'fromS' | 'toS'>,
  hold: { readonly fromS: number; readonly toS: number },
): boolean => {
  const middleS = (hold.fromS + hold.toS) / 2
  return middleS >= edit.fromS && middleS < edit.toS
}

/** Whether two documents say the same, in whatever order. */
export function sameEdits(a: SessionEdits, b: SessionEdits): boolean {
  return sameRows(a.marks, b.marks, sameMark) && sameRows(a.holds, b.holds, sameHoldEdit)
}

/** Times come back rounded to the axis of the recording; far below the finest step, s. */
const SAME_S = 0.002
const isSameTime = (a: number, b: number) => Math.abs(a - b) < SAME_S

export const sameMark = (a: EditedMark, b: EditedMark) =>
  isSameTime(a.atS, b.atS) && a.kind === b.kind && (a.note ?? null) === (b.note ?? null)

export const sameHoldEdit = (a: HoldEdit, b: HoldEdit) =>
  a.kind === b.kind &&
  isSameTime(a.fromS, b.fromS) &&
  isSameTime(a.toS, b.toS) &&
  (a.reason ?? null) === (b.reason ?? null)

function sameRows<T extends { id: string }>(a: readonly T[], b: readonly T[], same: (x: T, y: T) => boolean) {
  if (a.length !== b.length) return false
  const others = new Map(b.map((row) => [row.id, row]))
  return a.every((row) => {
    const other = others.get(row.id)
    return other !== undefined && same(row, other)
  })
}

function markOf(doc: SessionEdits, id: string): EditedMark {
  const mark = doc.marks.find((m) => m.id === id)
  if (!mark) throw new RangeError(`the document has no mark ${id}`)
  return mark
}

const withMark = (doc: SessionEdits, mark: EditedMark): SessionEdits => ({
  ...doc,
  marks: doc.marks.map((m) => (m.id === mark.id ? mark : m)),
})

function placed(doc: SessionEdits, hold: ShownHold, span: { fromS: number; toS: number }, id: string) {
  if (hold.setId === null) {
    return { doc: { ...doc, holds: [...doc.holds, { id, kind: 'set' as const, ...span, reason: null }] } }
  }
  const holds = doc.holds.map((edit) => (edit.id === hold.setId ? { ...edit, ...span } : edit))
  return { doc: { ...doc, holds } }
}
