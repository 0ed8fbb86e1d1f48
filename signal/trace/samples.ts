import { NumberReader } from './numbers.ts'
import { StampReader } from './stamps.ts'
import { MAX_SAMPLES } from './table.ts'
import { shorten, TraceError } from './trace-error.ts'
import type { Layout } from './layout.ts'
import type { Cell, Table } from './table.ts'
import type { Place } from './trace-error.ts'

/** Text found in the support or mark column. `at` is in the same scale as `Samples.at`. */
export interface ColumnEvent {
  readonly at: number
  readonly column: 'support' | 'mark'
  readonly text: string
  readonly place: Place
}

/** The samples as they stand in the file: own units, file order, not yet checked against each other. */
export interface Samples {
  /** Time relative to the first stamp in stamp units, or the row index when there is no time column. */
  at: Float64Array
  /** Three axes, and three more when the file has a gyroscope. */
  channels: Float64Array[]
  /** Line of each sample. */
  lines: Uint32Array
  stamps: StampReader | null
  events: ColumnEvent[]
  /** Rows whose axes are all empty. */
  missing: number
  /** Rows cut off at the end of the file. */
  truncated: number
  usesDecimalComma: boolean
}

/** @throws {TraceError} BAD_NUMBER, NON_FINITE, BAD_TIME, TOO_LARGE, and those of the scan */
export function readSamples(table: Table, layout: Layout): Samples {
  const capacity = Math.min(table.maxRows, MAX_SAMPLES)
  const columns = [...layout.acc, ...(layout.gyr ?? [])]
  const channels = columns.map(() => new Float64Array(capacity))
  const at = new Float64Array(capacity)
  const lines = new Uint32Array(capacity)
  const numbers = new NumberReader(table.commaMayBeDecimal)
  const stamps = layout.time === null ? null : new StampReader(table.commaMayBeDecimal)
  const events: ColumnEvent[] = []
  let rows = 0
  let n = 0
  let missing = 0
  let truncated = 0

  // One closure each for the whole file, not one per row: this loop is hot.
  let line = 0
  const nameOf = (column: number) => table.header?.[column] ?? String(column + 1)
  const placeIn = (column: number) => (): Place => ({ line, column: nameOf(column), unit: table.place })
  const places = columns.map(placeIn)
  const timePlace = placeIn(layout.time ?? 0)
  const eventColumns = (['support', 'mark'] as const).flatMap((role) => {
    const index = layout[role]
    return index === null ? [] : [{ role, index, place: placeIn(index) }]
  })
  const addEvents = (cells: readonly Cell[], when: number): void => {
    for (const { role, index, place } of eventColumns) {
      const text = String(cells[index]).trim()
      if (text !== '')
        events.push({ at: when, column: role, text, place: { ...place(), value: shorten(text) } })
    }
  }
  const readRow = (cells: readonly Cell[]): void => {
    const time = layout.time === null ? '' : cells[layout.time]
    const [x, y, z] = layout.acc
    if (isEmpty(cells[x]) && isEmpty(cells[y]) && isEmpty(cells[z])) {
      missing++
      if (stamps === null) addEvents(cells, rows)
      else if (!isEmpty(time)) addEvents(cells, stamps.read(time, timePlace))
      return
    }
    if (n >= capacity) {
      throw new TraceError('TOO_LARGE', `more than ${capacity} samples`, 'Cut the recording into parts.')
    }
    for (let c = 0; c < columns.length; c++) channels[c][n] = numbers.read(cells[columns[c]], places[c])
    at[n] = stamps === null ? rows : stamps.read(time, timePlace)
    lines[n] = line
    addEvents(cells, at[n])
    n++
  }
  const cutRows = table.scan((cells, rowLine, endsOpen) => {
    line = rowLine
    try {
      readRow(cells)
    } catch (error) {
      // A recording that broke off ends in half a row; its last cell tells no value.
      if (!(endsOpen && isCutOff(error, cells, nameOf))) throw error
      truncated++
    }
    rows++
  })
  return {
    at: at.subarray(0, n),
    channels: channels.map((channel) => channel.subarray(0, n)),
    lines: lines.subarray(0, n),
    stamps,
    events,
    missing,
    truncated: truncated + cutRows,
    usesDecimalComma: numbers.usesDecimalComma,
  }
}

function isEmpty(cell: Cell): boolean {
  return typeof cell === 'string' && (cell === '' || cell.trim() === '')
}

function isCutOff(error: unknown, cells: readonly Cell[], nameOf: (column: number) => string): boolean {
  return (
    error instanceof TraceError &&
    (error.code === 'BAD_NUMBER' || error.code === 'BAD_TIME') &&
    error.column === nameOf(cells.length - 1)
  )
}
