/** A cell of a table for people: text, a number, or nothing. */
export type Cell = string | number | boolean | null

/** What a spreadsheet takes for the beginning of a formula (OWASP, "CSV Injection"). */
const FORMULA = /^[=+\-@\t\r]/

/** RFC 4180 with CRLF. Text that a spreadsheet would run as a formula gets an apostrophe before it. */
export function csvTable(header: readonly string[], rows: readonly (readonly Cell[])[]): string {
  return [header, ...rows].map((row) => `${row.map(cellText).join(',')}\r\n`).join('')
}

function cellText(cell: Cell): string {
  if (cell === null) return ''
  if (typeof cell !== 'string') return String(cell)
  const safe = FORMULA.test(cell) ? `'${cell}` : cell
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe
}
