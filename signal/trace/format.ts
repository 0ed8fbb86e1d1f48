import { isMarkKind } from './marks.ts'
import { usToIso } from './iso-time.ts'
import type { Mark, Trace } from './trace.ts'

export interface FormatOptions {
  /** Decimals of the acceleration and angular rate; default: as many as it takes to read back the same number. */
  readonly decimals?: number
}

/**
 * The trace as CSV in SI units, which `parseTrace` reads back identically (to `decimals`):
 * comment lines with start and rate, then `t_s,ax_mps2,ay_mps2,az_mps2`, with a gyroscope
 * `gx_radps,gy_radps,gz_radps`, and `support` and `mark` when a mark falls on a sample. Marks that
 * those columns cannot hold (between samples, with kind and note, several at once) are written as
 * `# mark: seconds kind "note"` lines.
 *
 * @throws {RangeError} when decimals is no whole number from 0 to 20
 */
export function formatTraceCsv(trace: Trace, options: FormatOptions = {}): string {
  const { decimals } = options
  if (decimals !== undefined && !(Number.isInteger(decimals) && decimals >= 0 && decimals <= 20)) {
    throw new RangeError(`formatTraceCsv requires whole decimals from 0 to 20, got ${decimals}`)
  }
  const { inColumns, apart } = splitMarks(trace)
  const hasSupport = [...inColumns.values()].some((marks) => marks.some(isSupport))
  const hasMark = [...inColumns.values()].some((marks) => marks.some((mark) => !isSupport(mark)))
  const gyr = trace.gyr
  const header = ['t_s', 'ax_mps2', 'ay_mps2', 'az_mps2']
  if (gyr !== undefined) header.push('gx_radps', 'gy_radps', 'gz_radps')
  if (hasSupport) header.push('support')
  if (hasMark) header.push('mark')

  const lines: string[] = []
  if (trace.startedAtUs !== null) lines.push(`# started: ${usToIso(trace.startedAtUs)}`)
  lines.push(`# rate: ${trace.rateHz} Hz`, '# unit: m/s2')
  for (const { atS, kind, note } of apart) {
    lines.push(`# mark: ${exact(atS)} ${kind}${note === undefined ? '' : ` ${JSON.stringify(note)}`}`)
  }
  lines.push(header.join(','))

  const text = decimals === undefined ? exact : (value: number) => value.toFixed(decimals)
  const channels = [
    trace.acc.x,
    trace.acc.y,
    trace.acc.z,
    ...(gyr === undefined ? [] : [gyr.x, gyr.y, gyr.z]),
  ]
  for (let i = 0; i < trace.t.length; i++) {
    let line = exact(trace.t[i])
    for (const channel of channels) line += `,${text(channel[i])}`
    if (hasSupport || hasMark) {
      const marks = inColumns.get(i) ?? []
      const support = marks.find(isSupport)
      const mark = marks.find((other) => !isSupport(other))
      if (hasSupport) line += `,${support === undefined ? '' : support.kind === 'support-on' ? 'on' : 'off'}`
      if (hasMark)
        line += `,${mark === undefined ? '' : cell(mark.kind === 'note' ? (mark.note ?? '') : mark.kind)}`
    }
    lines.push(line)
  }
  return `${lines.join('\n')}\n`
}

/**
 * Marks by sample where the columns say the same as the marks, the rest apart. All marks of one
 * instant go the same way, so that their order is kept.
 */
function splitMarks({ t, marks }: Trace): { inColumns: Map<number, Mark[]>; apart: Mark[] } {
  const sampleAt = new Map<number, number>()
  if (marks.length > 0) t.forEach((atS, i) => sampleAt.set(atS, i))
  const byTime = new Map<number, Mark[]>()
  for (const mark of marks) byTime.set(mark.atS, [...(byTime.get(mark.atS) ?? []), mark])

  const inColumns = new Map<number, Mark[]>()
  const apart: Mark[] = []
  let supportInColumn: string | null = null
  for (const [atS, group] of byTime) {
    const sample = sampleAt.get(atS)
    const support = group.find(isSupport)
    const isCanonical =
      group.length === 1 || (group.length === 2 && isSupport(group[0]) && !isSupport(group[1]))
    const isChange = support === undefined || support.kind !== supportInColumn
    if (sample === undefined || !isCanonical || !isChange || !group.every(fitsCell)) {
      apart.push(...group)
      continue
    }
    if (support !== undefined) supportInColumn = support.kind
    inColumns.set(sample, group)
  }
  return { inColumns, apart }
}

function isSupport(mark: Mark): boolean {
  return mark.kind === 'support-on' || mark.kind === 'support-off'
}

/** True when the mark column brings the mark back as it was: a bare kind, or a note that is no kind and has no blanks around it. */
function fitsCell({ kind, note }: Mark): boolean {
  if (kind !== 'note') return note === undefined
  return (
    note !== undefined && note !== '' && note.trim() === note && !isMarkKind(note) && !/[\r\n\0]/.test(note)
  )
}

function cell(text: string): string {
  return /[",]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text
}

/** The shortest text that reads back as the same number, −0 included. */
function exact(value: number): string {
  return Object.is(value, -0) ? '-0' : String(value)
}
