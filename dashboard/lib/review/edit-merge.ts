import type { HoldEdit, SessionEdits } from '#protocol/session-review'
import { sameHoldEdit, sameMark, wordsOfMark } from './edit-document'
import type { EditedMark } from './edit-document'
import { timeWords } from './time-words'

/**
 * What I changed since `base`, put on top of what somebody else stored meanwhile: row by row, mine where I
 * changed it, theirs otherwise. A hold I set takes the place of one they set over it.
 */
export function putOnTop(base: SessionEdits, mine: SessionEdits, theirs: SessionEdits): SessionEdits {
  const marks = mergedRows(base.marks, mine.marks, theirs.marks, sameMark)
  const holds = mergedRows(base.holds, mine.holds, theirs.holds, sameHoldEdit)
  const isMine = (edit: HoldEdit) => !theirs.holds.some((t) => t.id === edit.id && sameHoldEdit(t, edit))
  const mySets = holds.filter((edit) => edit.kind === 'set' && isMine(edit))
  return {
    marks,
    holds: holds.filter(
      (edit) => edit.kind !== 'set' || isMine(edit) || !mySets.some((set) => doOverlap(set, edit)),
    ),
  }
}

const doOverlap = (a: HoldEdit, b: HoldEdit) => a.fromS < b.toS && b.fromS < a.toS

function mergedRows<T extends { id: string }>(
  base: readonly T[],
  mine: readonly T[],
  theirs: readonly T[],
  same: (a: T, b: T) => boolean,
): T[] {
  const before = byId(base)
  const wanted = byId(mine)
  const result = new Map(byId(theirs))
  for (const row of mine) {
    const was = before.get(row.id)
    if (!was || !same(was, row)) result.set(row.id, row)
  }
  for (const row of base) if (!wanted.has(row.id)) result.delete(row.id)
  return [...result.values()]
}

const byId = <T extends { id: string }>(rows: readonly T[]) => new Map(rows.map((row) => [row.id, row]))

/** What is different in `now` from `before`, one sentence each: "hands-off at 0:40.0 added". */
export function differences(before: SessionEdits, now: SessionEdits): string[] {
  return [
    ...rowDifferences(before.marks, now.marks, sameMark, markLine),
    ...rowDifferences(before.holds, now.holds, sameHoldEdit, holdLine),
  ]
}

function rowDifferences<T extends { id: string }>(
  before: readonly T[],
  now: readonly T[],
  same: (a: T, b: T) => boolean,
  line: (row: T) => string,
): string[] {
  const was = byId(before)
  const is = byId(now)
  return [
    ...now.flatMap((row) => {
      const old = was.get(row.id)
      if (!old) return [`${line(row)}: added`]
      return same(old, row) ? [] : [`${line(row)}, before ${line(old)}`]
    }),
    ...before.flatMap((row) => (is.has(row.id) ? [] : [`${line(row)}: taken back`])),
  ]
}

const markLine = (mark: EditedMark) => `${wordsOfMark(mark)} at ${timeWords(mark.atS)}`
const holdLine = ({ kind, fromS, toS, reason }: HoldEdit) =>
  `${kind === 'set' ? 'hold set' : 'hold left out'} ${timeWords(fromS)} to ${timeWords(toS)}${reason ? ` (${reason})` : ''}`
