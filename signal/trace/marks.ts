import { MARK_KINDS } from './trace.ts'
import { shorten, TraceError } from './trace-error.ts'
import type { Hints } from './table.ts'
import type { ColumnEvent } from './samples.ts'
import type { Mark, MarkKind } from './trace.ts'

const ON = new Set(['on', '1', 'true', 'yes', 'hands-on', 'support-on', 'hands on'])
const OFF = new Set(['off', '0', 'false', 'no', 'hands-off', 'support-off', 'hands off'])

export function isMarkKind(text: unknown): text is MarkKind {
  return (MARK_KINDS as readonly unknown[]).includes(text)
}

/**
 * Marks from the support and mark columns and from the marks written apart, ascending in time.
 * The support column gives a mark where its state changes, and at its first value; an empty cell
 * leaves the state as it is. Text in the mark column is a kind, or else a note.
 *
 * @param secondsOf turns the time scale of the events into seconds from the first sample
 * @throws {TraceError} BAD_VALUE
 */
export function readMarks(
  events: readonly ColumnEvent[],
  apart: Hints['marks'],
  placeUnit: 'line' | 'sample',
  secondsOf: (at: number) => number,
): Mark[] {
  const marks: Mark[] = apart.map(({ line, ...mark }) => checkMark(mark, line, placeUnit))
  let state: MarkKind | null = null
  const ordered = events.map((event) => ({ event, atS: secondsOf(event.at) })).sort((a, b) => a.atS - b.atS)
  for (const { event, atS } of ordered) {
    if (event.column === 'mark') {
      marks.push(isMarkKind(event.text) ? { atS, kind: event.text } : { atS, kind: 'note', note: event.text })
      continue
    }
    const kind = supportKind(event)
    if (kind !== state) marks.push({ atS, kind })
    state = kind
  }
  return marks.sort((a, b) => a.atS - b.atS)
}

function supportKind(event: ColumnEvent): MarkKind {
  const text = event.text.toLowerCase()
  if (ON.has(text)) return 'support-on'
  if (OFF.has(text)) return 'support-off'
  throw new TraceError(
    'BAD_VALUE',
    `"${shorten(event.text)}" does not say whether hands are on the dog`,
    'Use on or off (or 1 and 0).',
    event.place,
  )
}

function checkMark(
  mark: { atS: unknown; kind: unknown; note?: unknown },
  line: number,
  unit: 'line' | 'sample',
): Mark {
  const { atS, kind, note } = mark
  const isRight = typeof atS === 'number' && Number.isFinite(atS) && isMarkKind(kind)
  if (isRight && (note === undefined || typeof note === 'string')) {
    return note === undefined ? { atS, kind } : { atS, kind, note }
  }
  throw new TraceError(
    'BAD_VALUE',
    unit === 'line' ? 'this mark cannot be read' : `mark ${line} cannot be read`,
    `A mark has a time in seconds, a kind out of ${MARK_KINDS.join(', ')}, and perhaps a note as text.`,
    unit === 'line' ? { line } : {},
  )
}
