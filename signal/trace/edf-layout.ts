import { findLayout } from './layout.ts'
import { readColumnName } from './column-name.ts'
import { unitOf } from './units.ts'
import { shorten, TraceError } from './trace-error.ts'
import type { AccUnit, GyroUnit } from './units.ts'
import type { ColumnMapping } from './columns.ts'
import type { EdfSignal } from './edf-header.ts'
import type { Table } from './table.ts'

export interface EdfLayout {
  readonly acc: readonly EdfSignal[]
  readonly gyr: readonly EdfSignal[] | null
  readonly accUnit: AccUnit | null
  readonly gyroUnit: GyroUnit | null
  readonly notes: readonly string[]
}

/**
 * Which signals are the accelerometer and the gyroscope: by the mapping (labels, or signals counted from
 * 1), else by their labels under the same rules as the columns of a text file. The unit is the physical
 * dimension, else what the label says.
 *
 * @throws {TraceError} NO_COLUMNS, AMBIGUOUS_COLUMNS, BAD_MAPPING, BAD_RATE, UNIT_CONTRADICTION
 */
export function findEdfLayout(signals: readonly EdfSignal[], mapping: ColumnMapping | undefined): EdfLayout {
  const labels = signals.map(({ label }) => label)
  const named = signals.map(withUnit)
  for (const role of ['t', 'support', 'mark'] as const) {
    if (mapping?.[role] === undefined) continue
    throw new TraceError(
      'BAD_MAPPING',
      `"${role}" cannot be a signal of an EDF file`,
      'Map ax, ay, az (and gx, gy, gz) only: the file keeps time itself, and marks as annotations.',
    )
  }
  const layout =
    mapping === undefined
      ? findLayout(tableOf(named), undefined, true)
      : findLayout(tableOf(labels), byNumber(mapping, named), true)
  const notes = [...layout.notes]
  const pick = (triple: readonly number[]) => triple.map((i) => signals[i])
  const acc = pick(layout.acc)
  if (acc.some((signal) => signal.isAnnotations)) {
    throw new TraceError('BAD_MAPPING', 'an axis is mapped to the annotations', 'Map axes to samples.')
  }
  requireOneRate(acc)
  let gyr = layout.gyr === null ? null : pick(layout.gyr)
  if (gyr?.some((signal) => signal.samplesPerRecord !== acc[0].samplesPerRecord)) {
    notes.push('The gyroscope was not used: it has another rate than the accelerometer.')
    gyr = null
  }
  const unitsOf = (some: readonly EdfSignal[], kind: 'acc' | 'gyro') => {
    const units = some.map((signal) => readColumnName(withUnit(signal)).unit)
    return units.map((unit) => (unit?.kind === kind ? unit.unit : null))
  }
  const unread = acc.find(({ dimension }) => dimension !== '' && unitOf(dimension)?.kind !== 'acc')
  if (unread !== undefined) {
    notes.push(`"${shorten(unread.dimension)}" was not understood as a unit of acceleration.`)
  }
  return {
    acc,
    gyr,
    accUnit: oneUnit(acc, unitsOf(acc, 'acc')) as AccUnit | null,
    gyroUnit: gyr === null ? null : (oneUnit(gyr, unitsOf(gyr, 'gyro')) as GyroUnit | null),
    notes,
  }
}

/** The label with its dimension, as a column would be named. */
function withUnit({ label, dimension }: EdfSignal): string {
  return unitOf(dimension) === null ? label : `${label} [${dimension}]`
}

/** Names with a dimension behind them, as messages show them, become numbers of signals. */
function byNumber(mapping: ColumnMapping, named: readonly string[]): ColumnMapping {
  return Object.fromEntries(
    Object.entries(mapping).map(([role, wanted]) => {
      const at = named.indexOf(String(wanted))
      return [role, typeof wanted === 'string' && at !== -1 && wanted.endsWith(']') ? at + 1 : wanted]
    }),
  )
}

/** Names only: the samples of an EDF file are not rows. */
function tableOf(header: readonly string[]): Table {
  return {
    place: 'sample',
    header,
    width: header.length,
    preview: [],
    maxRows: 0,
    commaMayBeDecimal: false,
    scan: () => 0,
    hints: { marks: [] },
  }
}

function requireOneRate(acc: readonly EdfSignal[]): void {
  const [x, y, z] = acc.map(({ samplesPerRecord }) => samplesPerRecord)
  if (x === y && y === z) return
  throw new TraceError(
    'BAD_RATE',
    `the axes ${acc.map(({ label }) => `"${shorten(label)}"`).join(', ')} have ${x}, ${y} and ${z} samples per record`,
    'Export all three axes at one rate.',
  )
}

function oneUnit(signals: readonly EdfSignal[], units: readonly (string | null)[]): string | null {
  if (units.every((unit) => unit === units[0])) return units[0]
  throw new TraceError(
    'UNIT_CONTRADICTION',
    `the signals ${signals.map(({ label }) => `"${shorten(label)}"`).join(', ')} name different units`,
    'Give all three axes the same physical dimension.',
  )
}
