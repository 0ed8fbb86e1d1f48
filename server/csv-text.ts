/** What a spreadsheet may take for the start of a formula (OWASP, "CSV Injection"), full-width forms included. */
const FORMULA_START = /^[\s]*[=+\-@\uFF1D\uFF0B\uFF0D\uFF20]|^[\t\r\n]/

export type CsvValue = string | number | boolean | null

/**
 * A table as RFC 4180 has it: fields with comma, quote or line break in quotes, quotes doubled, lines ended by CRLF.
 * Text that a spreadsheet would run as a formula gets an apostrophe in front; numbers are written as they are.
 */
export function csvText(rows: Iterable<readonly CsvValue[]>): string {
  let text = ''
  for (const row of rows) text += row.map(csvField).join(',') + '\r\n'
  return text
}

function csvField(value: CsvValue): string {
  if (value === null) return ''
  if (typeof value !== 'string') return String(value)
  const safe = FORMULA_START.test(value) ? `'${value}` : value
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe
}
