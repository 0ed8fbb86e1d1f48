import { MAX_COLUMNS, MAX_SAMPLES, PREVIEW_ROWS } from './table.ts'
import { TraceError } from './trace-error.ts'
import { looksNumeric } from './numbers.ts'
import { looksIsoTime } from './iso-time.ts'
import { readComment } from './comment-hints.ts'
import { splitQuotedRow } from './quoted-row.ts'
import type { Delimiter } from './quoted-row.ts'
import type { Cell, Hints, RowVisitor, Table } from './table.ts'

/*
 * Why an own splitter: the CSV libraries at hand are made for well-formed files. uDSV 0.7.3 joins
 * a short row with the next one without a word ('4,5\n6,7,8' becomes ['4', '5\n6', '7,8']), drops
 * everything after an unclosed quote, does not return on a last row that was cut off, and gives no
 * line numbers. A trace needs each of those told with its line.
 */

const HASH = 35
const CARRIAGE_RETURN = 13

/**
 * The table in a delimited text: comma, semicolon or tab; quoted cells; `#` comment lines; blank
 * lines; LF, CRLF or CR line ends. The first row is the header unless every cell is a number or a
 * time.
 *
 * @param text without a byte-order mark
 * @throws {TraceError} EMPTY, TOO_LARGE, BAD_QUOTE; and RAGGED_ROW while scanning
 */
export function readDelimited(text: string): Table {
  const body = text.includes('\n') ? text : text.replace(/\r/g, '\n')
  const lineCount = countLineEnds(body) + 1
  if (lineCount > MAX_SAMPLES) {
    throw new TraceError(
      'TOO_LARGE',
      `${lineCount} lines are more than ${MAX_SAMPLES}`,
      'Cut the recording into parts.',
    )
  }
  const hints: Hints = { marks: [] }
  const { delimiter, start, startLine } = findStart(body)

  let header: readonly string[] | null = null
  const preview: (readonly Cell[])[] = []
  let first = true
  scanRows(body, start, startLine, delimiter, null, (cells) => {
    if (first) {
      first = false
      const isData = cells.every(
        (cell) => cell === '' || looksNumeric(cell, delimiter !== ',') || looksIsoTime(cell),
      )
      if (!isData) {
        header = cells.map((cell) => String(cell).trim())
        return true
      }
    }
    return preview.push(cells) < PREVIEW_ROWS
  })
  if (first)
    throw new TraceError('EMPTY', 'there is no row in the file', 'Choose the file that holds the samples.')
  const names = header as readonly string[] | null
  const width = names?.length ?? preview[0].length
  if (width > MAX_COLUMNS) {
    throw new TraceError(
      'TOO_LARGE',
      `${width} columns are more than ${MAX_COLUMNS}`,
      'Choose the file that holds the samples, one row each.',
    )
  }

  const scan = (visit: RowVisitor): number => {
    hints.marks.length = 0
    let headerSeen = names === null
    let ragged: TraceError | null = null
    scanRows(body, start, startLine, delimiter, hints, (cells, line, endsOpen) => {
      if (!headerSeen) return (headerSeen = true)
      if (ragged !== null) throw ragged
      if (cells.length !== width && !hasOnlyEmptyExtras(cells, width)) {
        ragged = new TraceError(
          'RAGGED_ROW',
          `${cells.length} cells where ${width} are expected`,
          'Repair or remove the row.',
          { line },
        )
        if (cells.length > width) throw ragged
        return true
      }
      return visit(cells, line, endsOpen)
    })
    return ragged === null ? 0 : 1
  }
  return {
    place: 'line',
    header: names,
    width,
    preview,
    maxRows: lineCount,
    commaMayBeDecimal: delimiter !== ',',
    scan,
    hints,
  }
}

function hasOnlyEmptyExtras(cells: readonly Cell[], width: number): boolean {
  if (cells.length < width) return false
  for (let i = width; i < cells.length; i++) if (String(cells[i]).trim() !== '') return false
  return true
}

function countLineEnds(text: string): number {
  let count = 0
  for (let at = text.indexOf('\n'); at !== -1; at = text.indexOf('\n', at + 1)) count++
  return count
}

/** The delimiter of the first row: tab before semicolon before comma, outside quotes. */
function findStart(text: string): { delimiter: Delimiter; start: number; startLine: number } {
  let start = 0
  let startLine = 1
  while (start < text.length) {
    let end = text.indexOf('\n', start)
    if (end === -1) end = text.length
    const line = text.slice(start, end).trim()
    const declared = /^sep=([,;\t])$/i.exec(line)
    if (declared) return { delimiter: declared[1] as Delimiter, start: end + 1, startLine: startLine + 1 }
    if (line !== '' && !line.startsWith('#')) {
      const bare = line.replace(/"[^"]*"/g, '')
      const delimiter = bare.includes('\t') ? '\t' : bare.includes(';') ? ';' : ','
      return { delimiter, start: 0, startLine: 1 }
    }
    start = end + 1
    startLine++
  }
  return { delimiter: ',', start: 0, startLine: 1 }
}

/** Visits the rows from `start`; comments go to `hints`, blank lines nowhere. */
function scanRows(
  text: string,
  start: number,
  startLine: number,
  delimiter: Delimiter,
  hints: Hints | null,
  visit: RowVisitor,
): void {
  const mayQuote = text.includes('"')
  let next = start
  let line = startLine
  while (next < text.length) {
    const rowStart = next
    const rowLine = line
    let end = text.indexOf('\n', rowStart)
    const endsOpen = end === -1
    if (endsOpen) end = text.length
    next = end + 1
    line++
    const row = text.slice(
      rowStart,
      end > rowStart && text.charCodeAt(end - 1) === CARRIAGE_RETURN ? end - 1 : end,
    )
    const trimmed = row.trimStart()
    if (trimmed === '') continue
    if (trimmed.charCodeAt(0) === HASH) {
      if (hints !== null) readComment(row, rowLine, hints)
    } else if (!mayQuote || !row.includes('"')) {
      if (visit(row.split(delimiter), rowLine, endsOpen) === false) return
    } else {
      const quoted = splitQuotedRow(text, rowStart, delimiter, rowLine)
      next = quoted.next
      line = quoted.nextLine
      if (visit(quoted.cells, rowLine, quoted.endsOpen) === false) return
    }
  }
}
