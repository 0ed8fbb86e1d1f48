import { ACC_FACTOR, GYRO_FACTOR, TICKS_PER_S } from './units.ts'
import { findAccUnit } from './acc-unit.ts'
import { findLayout } from './layout.ts'
import { guessGyroUnit } from './gyro-unit.ts'
import { nominalRate, readClock, readRateHint, readStartHint, requireRate } from './clock.ts'
import { orderRows } from './order.ts'
import { readColumnName } from './column-name.ts'
import { requireDuration, requirePossible, requireSamples, tooShort } from './limits.ts'
import { readMarks } from './marks.ts'
import { readSamples } from './samples.ts'
import { shorten, TraceError } from './trace-error.ts'
import { unitOf } from './units.ts'
import type { AccUnit, GyroUnit, TimeUnit } from './units.ts'
import type { Layout } from './layout.ts'
import type { ParsedTrace, ParseOptions } from './parse.ts'
import type { Place } from './trace-error.ts'
import type { Samples } from './samples.ts'
import type { Table } from './table.ts'
import type { Trace, Vector3Series } from './trace.ts'

/** The trace in a table: columns found, times ordered, units made SI. @throws {TraceError} */
export function buildTrace(table: Table, options: ParseOptions): ParsedTrace {
  const notes: string[] = []
  if (options.rateHz !== undefined) requireRate(options.rateHz)
  const layout = findLayoutWithHints(table, options)
  notes.push(...layout.notes)
  const samples = readSamples(table, layout)
  if (samples.at.length === 0) throw tooShort('there is no sample in the file')
  requireSamples(samples.at.length)
  noteUnused(samples, notes)
  const timing = readTiming(table, layout, samples, options, notes)

  const placeOf = (row: number): Place => ({ line: samples.lines[row], unit: table.place })
  const order = orderRows(timing.tS, samples.channels, placeOf)
  const { rows } = order
  if (order.duplicates > 0)
    notes.push(`${order.duplicates} rows that repeat another one exactly were dropped.`)
  if (order.moved > 0)
    notes.push(`${order.moved} rows stood out of order and were put in their place by time.`)
  const originS = timing.tS[rows[0]]
  const t = new Float64Array(rows.length)
  for (let i = 0; i < rows.length; i++) t[i] = timing.tS[rows[i]] - originS
  requireSamples(rows.length)
  requireDuration(t, (i) => placeOf(rows[i]))

  const acc = samples.channels.slice(0, 3)
  const header = headerUnit(table, layout.acc, 'acc') ?? hintedAccUnit(table, notes)
  const accUnit = findAccUnit(acc, { option: options.unit, header: header ?? undefined })
  notes.push(...accUnit.notes)
  const gyr = layout.gyr === null ? undefined : readGyro(table, layout.gyr, samples, rows, notes, placeOf)
  const accMs2 = pick(acc, rows, ACC_FACTOR[accUnit.unit], placeOf)
  requirePossible(accMs2, (axis, i) => ({
    ...placeOf(rows[i]),
    column: table.header?.[layout.acc[axis]] ?? String(layout.acc[axis] + 1),
    value: String(acc[axis][rows[i]]),
  }))
  const started = timing.firstUs === null ? null : timing.firstUs + Math.round(originS * 1e6)
  const trace: Trace = {
    t,
    acc: accMs2,
    ...(gyr === undefined ? {} : { gyr }),
    startedAtUs: started ?? startFromHint(table, notes),
    rateHz: timing.rateHz ?? nominalRate(t, timing.resolutionS, table.hints.rate, notes),
    marks: readMarks(samples.events, table.hints.marks, table.place, (at) => timing.secondsOf(at) - originS),
  }
  return {
    trace,
    unit: accUnit.unit,
    unitBasis: accUnit.basis,
    stampResolutionS: timing.resolutionS,
    duplicates: order.duplicates,
    unusedSamples: samples.missing + samples.truncated,
    notes,
  }
}

/** A rate line in the file is known only after reading it, so the search is done again if it helps. */
function findLayoutWithHints(table: Table, options: ParseOptions): Layout {
  const rateKnown = options.rateHz !== undefined
  try {
    return findLayout(table, options.columns, rateKnown)
  } catch (error) {
    if (rateKnown || !(error instanceof TraceError) || error.code !== 'NO_TIME') throw error
    table.scan(() => true)
    if (table.hints.rate === undefined) throw error
    return findLayout(table, options.columns, true)
  }
}

interface Timing {
  /** Seconds per row, file order. */
  readonly tS: Float64Array
  readonly secondsOf: (at: number) => number
  readonly resolutionS: number
  readonly firstUs: number | null
  /** The rate, when it is not to be taken from the times. */
  readonly rateHz: number | null
}

function readTiming(
  table: Table,
  layout: Layout,
  samples: Samples,
  options: ParseOptions,
  notes: string[],
): Timing {
  if (samples.stamps === null || layout.time === null) {
    const hinted = table.hints.rate === undefined ? null : readRateHint(table.hints.rate, notes)
    const rateHz = options.rateHz ?? hinted
    if (rateHz === null) {
      throw new TraceError('NO_TIME', 'no sample rate is known', 'Give the samples per second.')
    }
    requireRate(rateHz)
    const secondsOf = (at: number) => at / rateHz
    return { tS: samples.at.map(secondsOf), secondsOf, resolutionS: 0, firstUs: null, rateHz }
  }
  const clock = readClock(samples.stamps, samples.at, headerUnit(table, [layout.time], 'time'))
  notes.push(...clock.notes)
  const secondsOf = (at: number) => at / TICKS_PER_S[clock.unit]
  return {
    tS: samples.at.map(secondsOf),
    secondsOf,
    resolutionS: clock.resolutionS,
    firstUs: clock.firstUs,
    rateHz: null,
  }
}

function noteUnused(samples: Samples, notes: string[]): void {
  if (samples.missing > 0)
    notes.push(`${samples.missing} rows without acceleration were left out as missed samples.`)
  if (samples.truncated > 0) notes.push('The last row is cut off and was left out.')
  if (samples.usesDecimalComma) notes.push('Numbers were read with a decimal comma.')
}

interface UnitOfKind {
  acc: AccUnit
  gyro: GyroUnit
  time: TimeUnit
}

/** The unit the header names for these columns. @throws {TraceError} UNIT_CONTRADICTION */
function headerUnit<K extends keyof UnitOfKind>(
  table: Table,
  columns: readonly number[],
  kind: K,
): UnitOfKind[K] | null {
  if (table.header === null) return null
  const names = columns.map((column) => table.header?.[column] ?? '')
  const units = names.map((name) => {
    const unit = kind === 'time' ? (readColumnName(name).unit ?? unitOf(name)) : readColumnName(name).unit
    return unit?.kind === kind ? (unit.unit as UnitOfKind[K]) : null
  })
  if (units.every((unit) => unit === units[0])) return units[0]
  throw new TraceError(
    'UNIT_CONTRADICTION',
    `the columns ${names.map((name) => `"${shorten(name)}"`).join(', ')} name different units`,
    'Give all three axes the same unit in the header.',
  )
}

function hintedAccUnit(table: Table, notes: string[]): AccUnit | null {
  const hint = table.hints.unit
  if (hint === undefined) return null
  const unit = unitOf(hint)
  if (unit?.kind === 'acc') return unit.unit
  notes.push(`"${shorten(hint)}" was not understood as a unit of acceleration.`)
  return null
}

function readGyro(
  table: Table,
  columns: readonly number[],
  samples: Samples,
  rows: Uint32Array,
  notes: string[],
  placeOf: (row: number) => Place,
): Vector3Series | undefined {
  const gyr = samples.channels.slice(3)
  const stated = headerUnit(table, columns, 'gyro')
  const unit = stated ?? guessGyroUnit(gyr)
  if (unit === null) {
    notes.push(
      'The gyroscope was not used: neither its column names nor its values tell deg/s from rad/s. ' +
        'Name the unit in the header, for example "gyro_x [deg/s]".',
    )
    return undefined
  }
  if (stated === null)
    notes.push(`The gyroscope was taken to be in ${unit}, since its values are too large for rad/s.`)
  return pick(gyr, rows, GYRO_FACTOR[unit], placeOf)
}

function startFromHint(table: Table, notes: string[]): number | null {
  return table.hints.startedAt === undefined ? null : readStartHint(table.hints.startedAt, notes)
}

function pick(
  [x, y, z]: readonly Float64Array[],
  rows: Uint32Array,
  factor: number,
  placeOf: (row: number) => Place,
): Vector3Series {
  const take = (axis: Float64Array) => {
    const taken = new Float64Array(rows.length)
    for (let i = 0; i < rows.length; i++) {
      taken[i] = axis[rows[i]] * factor
      if (!Number.isFinite(taken[i])) throw tooLarge(axis[rows[i]], placeOf(rows[i]))
    }
    return taken
  }
  return { x: take(x), y: take(y), z: take(z) }
}

function tooLarge(value: number, place: Place): TraceError {
  return new TraceError('NON_FINITE', `${value} is too large to convert`, 'Remove or correct the row.', place)
}
