import { STANDARD_GRAVITY_MS2 } from '#signal/constants'
import type { Trace } from '#signal/trace/trace'

export interface DelimitedForm {
  readonly kind: 'csv' | 'tsv'
  readonly delimiter: ',' | ';' | '\t'
  readonly decimal: '.' | ','
  /** `iso`: UTC with milliseconds; `epoch ms`: milliseconds since 1970. */
  readonly time: 's' | 'ms' | 'epoch ms' | 'iso'
  readonly accUnit: 'm/s2' | 'g' | 'mg'
  /** Decimals of an acceleration cell. */
  readonly decimals: number
  /** Column names: time, three of the accelerometer, three of the gyroscope when the trace has one. */
  readonly header: readonly string[]
  /** Adds `support` (on/off) and `mark` columns. */
  readonly marks: boolean
  /** Lines before the header, each starting with `#`. */
  readonly comments?: readonly string[]
}

export interface JsonForm {
  readonly kind: 'json'
  readonly accUnit: 'm/s2'
  readonly decimals: number
}

export type TraceForm = DelimitedForm | JsonForm

const MS2_PER_UNIT = { 'm/s2': 1, g: STANDARD_GRAVITY_MS2, mg: STANDARD_GRAVITY_MS2 / 1000 }
const DEG_PER_RAD = 180 / Math.PI

/** The text of a trace in the given form. Gyroscope columns are in degrees per second. */
export function formatTrace(trace: Trace, form: TraceForm): string {
  return form.kind === 'json' ? formatJson(trace, form) : formatDelimited(trace, form)
}

function formatDelimited(trace: Trace, form: DelimitedForm): string {
  const cells = (value: number, decimals: number): string => fixed(value, decimals).replace('.', form.decimal)
  const perUnit = MS2_PER_UNIT[form.accUnit]
  const { acc, gyr } = trace
  const marks = form.marks ? markCells(trace) : null
  const lines = [...(form.comments ?? [])]
  lines.push([...form.header, ...(marks ? ['support', 'mark'] : [])].join(form.delimiter))
  for (let i = 0; i < trace.t.length; i++) {
    const row = [timeCell(trace, i, form).replace('.', form.time === 'iso' ? '.' : form.decimal)]
    for (const channel of [acc.x, acc.y, acc.z]) row.push(cells(channel[i] / perUnit, form.decimals))
    if (gyr) for (const channel of [gyr.x, gyr.y, gyr.z]) row.push(cells(channel[i] * DEG_PER_RAD, 2))
    if (marks) row.push(marks.support[i], marks.mark[i])
    lines.push(row.join(form.delimiter))
  }
  return lines.join('\n') + '\n'
}

function timeCell(trace: Trace, index: number, form: DelimitedForm): string {
  const tS = trace.t[index]
  if (form.time === 's') return fixed(tS, 4)
  if (form.time === 'ms') return fixed(tS * 1000, 1)
  if (trace.startedAtUs === null)
    throw new TypeError(`time as ${form.time} requires a trace with startedAtUs`)
  const epochMs = Math.round(trace.startedAtUs / 1000 + tS * 1000)
  return form.time === 'epoch ms' ? String(epochMs) : new Date(epochMs).toISOString()
}

/** Support state in every row from the first support mark on, and other marks in the first free row at or after them. */
function markCells(trace: Trace): { support: string[]; mark: string[] } {
  const support = Array.from(trace.t, () => '')
  const mark = Array.from(trace.t, () => '')
  for (const { atS, kind } of trace.marks) {
    let row = trace.t.findIndex((tS) => tS >= atS)
    if (row === -1) row = trace.t.length - 1
    if (kind === 'support-on' || kind === 'support-off') {
      support.fill(kind === 'support-on' ? 'on' : 'off', row)
      continue
    }
    while (mark[row] !== '' && row < mark.length - 1) row++
    mark[row] = kind
  }
  return { support, mark }
}

function formatJson(trace: Trace, form: JsonForm): string {
  const column = (x: Float64Array, decimals: number): string =>
    `[${Array.from(x, (value) => Number(fixed(value, decimals))).join(',')}]`
  const axes = ({ x, y, z }: Trace['acc'], decimals: number): string =>
    `{ "x": ${column(x, decimals)},\n  "y": ${column(y, decimals)},\n  "z": ${column(z, decimals)} }`
  const marks = trace.marks.map(({ atS, kind }) => JSON.stringify({ atS: Number(fixed(atS, 3)), kind }))
  const startedAt = trace.startedAtUs === null ? null : new Date(trace.startedAtUs / 1000).toISOString()
  return [
    '{',
    `"startedAt": ${JSON.stringify(startedAt)},`,
    `"rateHz": ${trace.rateHz},`,
    `"unit": "${form.accUnit}",`,
    `"t": ${column(trace.t, 4)},`,
    `"acc": ${axes(trace.acc, form.decimals)},`,
    ...(trace.gyr ? [`"gyr": ${axes(trace.gyr, 4)},`] : []),
    `"marks": [${marks.join(',\n  ')}]`,
    '}',
    '',
  ].join('\n')
}

/** Fixed decimals, never a negative zero. */
function fixed(value: number, decimals: number): string {
  const text = value.toFixed(decimals)
  return Number(text) === 0 ? text.replace('-', '') : text
}
