import { TraceError } from './trace-error.ts'

export type Delimiter = ',' | ';' | '\t'

export interface QuotedRow {
  cells: string[]
  /** Offset of the next row. */
  next: number
  nextLine: number
  /** True when the text ended without a line end. */
  endsOpen: boolean
}

/**
 * Splits the row at `start` that holds quotes (RFC 4180: `""` inside quotes is one quote, quoted
 * cells may hold delimiters and line ends). A quote inside an unquoted cell is an ordinary
 * character. A quoted cell cut off on the last line is left out, so that the row comes out short.
 *
 * @throws {TraceError} BAD_QUOTE when text follows a closing quote, or a quote never closes
 */
export function splitQuotedRow(text: string, start: number, delimiter: Delimiter, line: number): QuotedRow {
  const cells: string[] = []
  let nextLine = line
  let at = start
  for (;;) {
    while (text[at] === ' ') at++
    if (text[at] === '"') {
      const opened = nextLine
      let value = ''
      at++
      for (;;) {
        const close = text.indexOf('"', at)
        if (close === -1) {
          if (text.includes('\n', at)) {
            throw new TraceError(
              'BAD_QUOTE',
              'a quote is opened and never closed',
              'Close or remove the quote.',
              {
                line: opened,
              },
            )
          }
          return { cells, next: text.length, nextLine: nextLine + 1, endsOpen: true }
        }
        const part = text.slice(at, close)
        for (let i = part.indexOf('\n'); i !== -1; i = part.indexOf('\n', i + 1)) nextLine++
        value += part
        at = close + 1
        if (text[at] !== '"') break
        value += '"'
        at++
      }
      cells.push(value)
      while (text[at] === ' ' || text[at] === '\r') at++
      if (at < text.length && text[at] !== delimiter && text[at] !== '\n') {
        throw new TraceError(
          'BAD_QUOTE',
          'text follows a closing quote',
          'Double the quotes inside quoted text.',
          {
            line: nextLine,
          },
        )
      }
    } else {
      const from = at
      while (at < text.length && text[at] !== delimiter && text[at] !== '\n') at++
      const cell = text.slice(from, at)
      cells.push(cell.endsWith('\r') ? cell.slice(0, -1) : cell)
    }
    if (at >= text.length) return { cells, next: text.length, nextLine: nextLine + 1, endsOpen: true }
    if (text[at] === '\n') return { cells, next: at + 1, nextLine: nextLine + 1, endsOpen: false }
    at++
  }
}
