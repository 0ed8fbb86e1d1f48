import { buildTrace } from './build-trace.ts'
import { readDelimited } from './delimited.ts'
import { readJson } from './json-table.ts'
import { TraceError } from './trace-error.ts'
import type { AccUnit } from './units.ts'
import type { ColumnMapping } from './columns.ts'
import type { Trace } from './trace.ts'

export { parseColumns } from './columns.ts'
export { TraceError } from './trace-error.ts'
export type { ColumnMapping, ColumnRole } from './columns.ts'
export type { TraceErrorCode } from './trace-error.ts'

export interface ParseOptions {
  /** Samples per second of a file without a time column; with one it is not looked at. */
  readonly rateHz?: number
  /** Unit of the acceleration; goes before what the header says. */
  readonly unit?: AccUnit
  /** Which column holds what; without it the names decide. A mapping without `t` needs `rateHz`, else the time is found by name. */
  readonly columns?: ColumnMapping
}

export interface ParsedTrace {
  readonly trace: Trace
  /** Unit the acceleration had in the file. */
  readonly unit: AccUnit
  readonly unitBasis: 'option' | 'header' | 'median norm'
  /** Smallest step the stamps can show, s; 0 when there is no time column. */
  readonly stampResolutionS: number
  /** Rows equal to another one in time and every value, dropped. */
  readonly duplicates: number
  /** Rows that hold no usable sample: missed samples (empty axes) and a cut-off last row. Duplicates are counted apart. */
  readonly unusedSamples: number
  /** Sentences on what was assumed or left out. */
  readonly notes: readonly string[]
}

/**
 * The trace in a text: CSV (comma, semicolon, tab; decimal comma with the latter two) or JSON (see
 * `readJson` for its forms). Found in this order and never guessed where two readings are possible:
 * columns by mapping, by name, or by order; time in s, ms, µs, ns, ISO 8601 or since 1970; unit of
 * the acceleration by option, by header, or from gravity; gyroscope in rad/s or deg/s.
 *
 * A missed sample (all three axes empty) leaves a hole in time. Rows that repeat another one are
 * dropped; rows at most 1 s late are put in their place; a clock that goes back is refused.
 *
 * @param text the whole file, decoded
 * @throws {TraceError} for everything that cannot be read, with line, column, value and remedy
 */
export function parseTrace(text: string, options: ParseOptions = {}): ParsedTrace {
  const plain = text.charCodeAt(0) === BYTE_ORDER_MARK ? text.slice(1) : text
  if (plain.includes('\0')) {
    throw new TraceError(
      'NOT_TEXT',
      'the file is not text (or not UTF-8 text)',
      'Export it as CSV or JSON in UTF-8.',
    )
  }
  const start = plain.trimStart().charAt(0)
  if (start === '') {
    throw new TraceError('EMPTY', 'the file is empty', 'Choose the file that holds the samples.')
  }
  return buildTrace(start === '{' || start === '[' ? readJson(plain) : readDelimited(plain), options)
}

const BYTE_ORDER_MARK = 0xfeff
