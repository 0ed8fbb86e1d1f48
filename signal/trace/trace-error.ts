/** Why a text could not be read as a trace. Stable: callers may branch on it. */
export type TraceErrorCode =
  | 'EMPTY'
  | 'NOT_TEXT'
  | 'TOO_LARGE'
  | 'BAD_JSON'
  | 'BAD_EDF'
  | 'BAD_QUOTE'
  | 'BAD_MAPPING'
  | 'NO_COLUMNS'
  | 'AMBIGUOUS_COLUMNS'
  | 'NO_TIME'
  | 'BAD_RATE'
  | 'RAGGED_ROW'
  | 'BAD_NUMBER'
  | 'NON_FINITE'
  | 'BAD_TIME'
  | 'BAD_VALUE'
  | 'TIME_ORDER'
  | 'COARSE_TIME'
  | 'UNKNOWN_UNIT'
  | 'UNIT_CONTRADICTION'
  | 'TOO_SHORT'
  | 'NO_SIGNAL'

/** Where in the file: `line` counts from 1 (for JSON: the sample, counted from 1). */
export interface Place {
  readonly line?: number
  readonly column?: string
  readonly value?: string
  /** What `line` counts. */
  readonly unit?: 'line' | 'sample'
}

const MAX_QUOTED_CHARS = 40

/**
 * A text that cannot be read as a trace: what was wrong, where, and what to do about it.
 * The message holds all three, as in `line 214, column "az": "n/a" is not a number. Remove the
 * row or fill the cell.`
 */
export class TraceError extends Error {
  override readonly name = 'TraceError'
  readonly code: TraceErrorCode
  readonly line?: number
  readonly column?: string
  readonly value?: string
  readonly remedy: string

  constructor(code: TraceErrorCode, what: string, remedy: string, place: Place = {}) {
    const where = [
      ...(place.line === undefined ? [] : [`${place.unit ?? 'line'} ${place.line}`]),
      ...(place.column === undefined ? [] : [`column "${shorten(place.column)}"`]),
    ].join(', ')
    super(`${where === '' ? '' : `${where}: `}${what}. ${remedy}`)
    this.code = code
    this.remedy = remedy
    this.line = place.line
    this.column = place.column
    this.value = place.value
  }
}

/** The text, cut so that a message stays one line. */
export function shorten(text: string): string {
  const oneLine = text.replace(/[\s\p{Cc}]+/gu, ' ').trim()
  return oneLine.length <= MAX_QUOTED_CHARS ? oneLine : `${oneLine.slice(0, MAX_QUOTED_CHARS)}…`
}
