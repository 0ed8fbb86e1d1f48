import { requireShallow } from './json-depth.ts'
import { jsonErrorOffset } from './json-error.ts'
import { shorten, TraceError } from './trace-error.ts'
import { MAX_SAMPLES, PREVIEW_ROWS } from './table.ts'
import type { Cell, Hints, Table } from './table.ts'

const REMEDY =
  'Give {"t": […], "acc": {"x": […], "y": […], "z": […]}}, {"samples": [[t, x, y, z], …]} or [{"t": …, "ax": …, "ay": …, "az": …}, …].'

/**
 * The table in a JSON text. Three forms:
 *
 * - an object of columns: `{ startedAt?, rateHz?, unit?, t?, acc: { x, y, z }, gyr?: { x, y, z }, marks? }`,
 *   `t` in seconds (left out when `rateHz` is given), `gyr` in rad/s, `startedAt` ISO 8601 with a
 *   zone, `unit` one of g, mg, m/s2, `marks` as `[{ atS, kind, note? }]` in seconds from the first sample;
 * - the same with `samples: [[t, x, y, z], …]` or `[[t, x, y, z, gx, gy, gz], …]` instead of `t`, `acc`, `gyr`;
 * - an array of records with the column names of a CSV header, `[{ "t": 0, "ax": 0.1, … }, …]`
 *   (nested objects give dotted names), or an array of rows as in a CSV file without a header.
 *
 * @throws {TraceError} BAD_JSON, BAD_VALUE, EMPTY, TOO_LARGE
 */
export function readJson(text: string): Table {
  requireShallow(text)
  const value = parseJson(text)
  if (Array.isArray(value)) return readArray(value)
  if (typeof value !== 'object' || value === null) throw shape('the JSON holds no samples')
  return readObject(value as Record<string, unknown>)
}

function parseJson(text: string): unknown {
  try {
    return JSON.parse(text) as unknown
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error)
    const line = text.slice(0, jsonErrorOffset(text)).split('\n').length
    throw new TraceError(
      'BAD_JSON',
      `the JSON cannot be read: ${shorten(message)}`,
      'Correct or export the file again.',
      {
        line,
      },
    )
  }
}

function readObject(object: Record<string, unknown>): Table {
  const hints: Hints = {
    marks: readMarkList(object.marks),
    ...textHint('startedAt', object.startedAt),
    ...textHint('unit', object.unit),
  }
  if (object.rateHz !== undefined && object.rateHz !== null) {
    if (typeof object.rateHz !== 'number') throw shape('"rateHz" is not a number')
    hints.rate = String(object.rateHz)
  }
  if (object.samples !== undefined) {
    if (object.acc !== undefined) throw shape('both "samples" and "acc" are given')
    const rows = requireArray(object.samples, 'samples')
    const width = Array.isArray(rows[0]) ? rows[0].length : 0
    if (width !== 4 && width !== 7) throw shape('a row of "samples" holds neither 4 nor 7 numbers')
    const header = ['t_s', 'ax', 'ay', 'az', 'gx_radps', 'gy_radps', 'gz_radps'].slice(0, width)
    return table(header, rows.length, (i) => cellsOf(rows[i], i), hints)
  }
  const columns: [string, unknown[]][] = []
  if (object.t !== undefined && object.t !== null) columns.push(['t_s', requireArray(object.t, 't')])
  columns.push(...axesOf(object.acc, 'acc', 'a', ''))
  if (object.gyr !== undefined && object.gyr !== null)
    columns.push(...axesOf(object.gyr, 'gyr', 'g', '_radps'))
  const count = columns[0][1].length
  for (const [name, values] of columns) {
    if (values.length !== count)
      throw shape(`"${name}" has ${values.length} values where ${count} are expected`)
  }
  const header = columns.map(([name]) => name)
  return table(header, count, (i) => columns.map(([name, values]) => cellOf(values[i], i, name)), hints)
}

function axesOf(value: unknown, key: string, letter: string, suffix: string): [string, unknown[]][] {
  if (typeof value !== 'object' || value === null) throw shape(`"${key}" is missing or no object`)
  return ['x', 'y', 'z'].map((axis) => [
    `${letter}${axis}${suffix}`,
    requireArray((value as Record<string, unknown>)[axis], `${key}.${axis}`),
  ])
}

function readArray(rows: readonly unknown[]): Table {
  const hints: Hints = { marks: [] }
  const first = rows[0]
  if (Array.isArray(first)) return table(null, rows.length, (i) => cellsOf(rows[i], i), hints, first.length)
  const names = new Set<string>()
  for (let i = 0; i < Math.min(rows.length, PREVIEW_ROWS); i++) {
    for (const name of flatten(rows[i], i).keys()) names.add(name)
  }
  const header = [...names]
  const record = (i: number): Cell[] => {
    const cells = flatten(rows[i], i)
    return header.map((name) => cellOf(cells.get(name), i, name))
  }
  return table(header, rows.length, record, hints)
}

/** Names and values of a record; one level of nesting becomes dotted names. */
function flatten(record: unknown, index: number): Map<string, unknown> {
  if (typeof record !== 'object' || record === null || Array.isArray(record)) {
    throw new TraceError('BAD_VALUE', 'this entry is no record', REMEDY, { line: index + 1, unit: 'sample' })
  }
  const flat = new Map<string, unknown>()
  for (const [key, value] of Object.entries(record)) {
    if (typeof value !== 'object' || value === null) flat.set(key, value)
    else for (const [inner, leaf] of Object.entries(value)) flat.set(`${key}.${inner}`, leaf)
  }
  return flat
}

function cellsOf(row: unknown, index: number): Cell[] {
  if (Array.isArray(row)) return row.map((value, column) => cellOf(value, index, String(column + 1)))
  throw new TraceError('BAD_VALUE', 'this entry is no row of numbers', REMEDY, {
    line: index + 1,
    unit: 'sample',
  })
}

function cellOf(value: unknown, index: number, column: string): Cell {
  if (typeof value === 'number' || typeof value === 'string') return value
  if (value === null || value === undefined) return ''
  if (typeof value === 'boolean') return value ? 'true' : 'false'
  throw new TraceError('BAD_VALUE', 'this value is neither number nor text', REMEDY, {
    line: index + 1,
    column,
    unit: 'sample',
  })
}

function table(
  header: string[] | null,
  count: number,
  rowAt: (index: number) => Cell[],
  hints: Hints,
  width = header?.length ?? 0,
): Table {
  if (count === 0)
    throw new TraceError('EMPTY', 'there is no sample in the file', 'Choose the file that holds the samples.')
  if (count > MAX_SAMPLES) {
    throw new TraceError(
      'TOO_LARGE',
      `${count} samples are more than ${MAX_SAMPLES}`,
      'Cut the recording into parts.',
    )
  }
  const checkedRow = (i: number): Cell[] => {
    const cells = rowAt(i)
    if (cells.length === width) return cells
    throw new TraceError(
      'RAGGED_ROW',
      `${cells.length} values where ${width} are expected`,
      'Repair or remove the row.',
      {
        line: i + 1,
        unit: 'sample',
      },
    )
  }
  return {
    place: 'sample',
    header,
    width,
    preview: Array.from({ length: Math.min(count, PREVIEW_ROWS) }, (_, i) => checkedRow(i)),
    maxRows: count,
    commaMayBeDecimal: false,
    scan: (visit) => {
      for (let i = 0; i < count; i++) if (visit(checkedRow(i), i + 1, false) === false) break
      return 0
    },
    hints,
  }
}

function readMarkList(marks: unknown): Hints['marks'] {
  if (marks === undefined || marks === null) return []
  return requireArray(marks, 'marks').map((mark, i) => {
    const { atS, kind, note } = (typeof mark === 'object' && mark !== null ? mark : {}) as Record<
      string,
      unknown
    >
    return { atS, kind, note: note === null ? undefined : note, line: i + 1 }
  })
}

function textHint(key: 'startedAt' | 'unit', value: unknown): Partial<Hints> {
  if (value === undefined || value === null) return {}
  if (typeof value !== 'string') throw shape(`"${key}" is not text`)
  return { [key]: value }
}

function requireArray(value: unknown, name: string): unknown[] {
  if (Array.isArray(value)) return value as unknown[]
  throw shape(`"${name}" is missing or no list`)
}

function shape(what: string): TraceError {
  return new TraceError('BAD_JSON', what, REMEDY)
}
