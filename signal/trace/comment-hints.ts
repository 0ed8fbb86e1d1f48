import type { Hints } from './table.ts'

const HINT = /^\s*#\s*(started|rate|unit|mark)\s*:\s*(.*)$/i
const MARK = /^(\S+)\s+([a-z-]+)(?:\s+(".*"))?\s*$/

/**
 * Takes from a `#` line what we understand: `# started: 2026-03-04T05:06:07Z`, `# rate: 100 Hz`,
 * `# unit: g`, `# mark: 12.5 support-on "both hands"` (seconds, kind, note as a JSON string).
 * Anything else on such a line is a remark for people.
 */
export function readComment(row: string, line: number, hints: Hints): void {
  const match = HINT.exec(row)
  if (match === null) return
  const text = match[2].trim()
  switch (match[1].toLowerCase()) {
    case 'started':
      hints.startedAt ??= text
      break
    case 'rate':
      hints.rate ??= text
      break
    case 'unit':
      hints.unit ??= text
      break
    default:
      hints.marks.push({ ...readMark(text), line })
  }
}

function readMark(text: string): { atS: unknown; kind: unknown; note?: unknown } {
  const match = MARK.exec(text)
  if (match === null) return { atS: text, kind: undefined }
  const atS = Number(match[1])
  if (match[3] === undefined) return { atS, kind: match[2] }
  try {
    return { atS, kind: match[2], note: JSON.parse(match[3]) as unknown }
  } catch {
    // Told as a bad mark, with its line, where marks are checked.
    return { atS: text, kind: undefined }
  }
}
