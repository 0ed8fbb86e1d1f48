import { JUNIPER } from '#signal/simulator/programme'
import { simulateSession } from '#signal/simulator/session'
import { formatTrace } from './formats.ts'
import type { DelimitedForm } from './formats.ts'

export interface BadSample {
  readonly file: string
  readonly wrong: string
  readonly text: string
}

const FORM: DelimitedForm = {
  kind: 'csv',
  delimiter: ',',
  decimal: '.',
  time: 's',
  accUnit: 'm/s2',
  decimals: 3,
  header: ['t', 'ax', 'ay', 'az'],
  marks: false,
}

/** Files that must be refused, each for one reason, to try the error messages on. */
export function badSamples(): readonly BadSample[] {
  const { trace } = simulateSession({
    seed: 'bad',
    rateHz: 50,
    dog: JUNIPER,
    episodes: [{ kind: 'quiet-stand', durationS: 6 }],
  })
  const good = formatTrace(trace, FORM)
  const tripled = {
    ...trace,
    acc: { x: times3(trace.acc.x), y: times3(trace.acc.y), z: times3(trace.acc.z) },
  }
  return [
    {
      file: 'text-in-a-cell.csv',
      wrong: 'line 121, column ay: a word where a number belongs',
      text: changeLine(good, 121, swapCell(2, 'n/a')),
    },
    {
      file: 'unknown-unit.csv',
      wrong: 'no unit named, and the median norm is 29.4: neither g, mg nor m/s²',
      text: formatTrace(tripled, FORM),
    },
    {
      file: 'time-backwards.csv',
      wrong: 'from line 151 on the clock starts again at 0',
      text: restartClock(good, 151),
    },
    { file: 'no-axes.csv', wrong: 'time and two temperatures, no accelerometer', text: withoutAxes(good) },
  ]
}

function times3(x: Float64Array): Float64Array {
  return x.map((value) => value * 3)
}

function changeLine(text: string, line: number, change: (row: string) => string): string {
  return text
    .split('\n')
    .map((row, index) => (index === line - 1 ? change(row) : row))
    .join('\n')
}

function swapCell(column: number, value: string): (row: string) => string {
  return (row) =>
    row
      .split(',')
      .map((cell, index) => (index === column ? value : cell))
      .join(',')
}

function restartClock(text: string, line: number): string {
  const rows = text.split('\n')
  return rows
    .map((row, index) =>
      index < line - 1 || row === '' ? row : swapCell(0, rows[index - line + 2].split(',')[0])(row),
    )
    .join('\n')
}

function withoutAxes(text: string): string {
  const rows = text.trimEnd().split('\n').slice(1)
  const body = rows.map(
    (row, index) =>
      `${row.split(',')[0]},${(38 + 0.01 * (index % 7)).toFixed(2)},${(21 + 0.02 * (index % 5)).toFixed(2)}`,
  )
  return ['t,skin_temperature_c,air_temperature_c', ...body, ''].join('\n')
}
