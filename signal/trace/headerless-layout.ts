import { looksNumeric } from './numbers.ts'
import { looksIsoTime } from './iso-time.ts'
import { TraceError } from './trace-error.ts'
import type { Layout } from './layout.ts'
import type { Table } from './table.ts'

/**
 * Columns of a file without a header, only where their order leaves no doubt: three columns and a
 * known rate are the axes; with four or more, a strictly ascending first column is the time and
 * the next three are the axes.
 *
 * @throws {TraceError} NO_COLUMNS, NO_TIME
 */
export function headerlessLayout(table: Table, rateKnown: boolean): Layout {
  const { width, preview } = table
  if (width === 3) {
    if (!rateKnown) {
      throw new TraceError(
        'NO_TIME',
        'the file has three columns without a header and no sample rate is known',
        'Give the samples per second, or name the columns as t=1,ax=2,ay=3,az=4.',
      )
    }
    return layout(null, 0, ['The file has no header: columns 1 to 3 were taken as the x, y and z axes.'])
  }
  if (width >= 4 && isAscending(preview)) {
    const rest = width > 4 ? ` ${width === 5 ? 'Column 5 was' : `Columns 5 to ${width} were`} not used.` : ''
    return layout(0, 1, [
      `The file has no header: column 1 was taken as the time, columns 2 to 4 as the x, y and z axes.${rest}`,
    ])
  }
  throw new TraceError(
    'NO_COLUMNS',
    `the file has ${width} columns without a header, and their order does not tell what they hold`,
    'Name the columns by number, for example t=1,ax=2,ay=3,az=4.',
  )
}

function layout(time: number | null, firstAxis: number, notes: string[]): Layout {
  return { time, acc: [firstAxis, firstAxis + 1, firstAxis + 2], gyr: null, support: null, mark: null, notes }
}

/** Ascending over the first rows, repeated stamps aside: those are judged when all are read. */
function isAscending(rows: Table['preview']): boolean {
  let last = -Infinity
  let rises = 0
  for (const cells of rows) {
    const cell = cells[0]
    const value = looksIsoTime(cell)
      ? Date.parse(String(cell))
      : looksNumeric(cell, true)
        ? Number(String(cell).replace(',', '.'))
        : NaN
    if (Number.isNaN(value) || value < last) return false
    if (value > last && last !== -Infinity) rises++
    last = value
  }
  return rises > 0
}
