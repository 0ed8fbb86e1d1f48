import { ACC_FACTOR, GYRO_FACTOR } from './units.ts'
import { badEdf, readEdfHeader } from './edf-header.ts'
import { findAccUnit } from './acc-unit.ts'
import { findEdfLayout } from './edf-layout.ts'
import { guessGyroUnit } from './gyro-unit.ts'
import { markOf } from './edf-annotations.ts'
import { MAX_SAMPLES } from './table.ts'
import { readEdfStart } from './edf-start.ts'
import { readSignal, readTimeline } from './edf-records.ts'
import { requireDuration, requirePossible, requireSamples } from './limits.ts'
import { requireRate } from './clock.ts'
import { TraceError } from './trace-error.ts'
import type { EdfHeader } from './edf-header.ts'
import type { EdfLayout } from './edf-layout.ts'
import type { EdfTimeline } from './edf-records.ts'
import type { Mark, Vector3Series } from './trace.ts'
import type { ParsedTrace, ParseOptions } from './parse.ts'

export { isEdf } from './edf-header.ts'

/** The standard text that says where the last record is filled up with samples that were never taken. */
export const RECORDING_ENDS = 'Recording ends'

/**
 * The trace in an EDF or EDF+ file (European Data Format: Kemp et al. 1992; EDF+: Kemp & Olivan 2003;
 * https://www.edfplus.info/specs), given as `parseTrace` gives that of a text. Three signals of one rate
 * are the accelerometer, found by label, and three more perhaps the gyroscope. Records of EDF+D stand where
 * their time-keeping annotation puts them, so gaps stay gaps. Annotations become marks: texts that are a
 * kind of mark that mark, others notes; their durations are not used. Samples from "Recording ends" in the
 * last record on are filling and are left out.
 *
 * @param bytes the whole file
 * @param options `columns` by signal label or number from 1; `unit`; `rateHz` is not looked at
 * @throws {TraceError} for everything that cannot be read, with place and remedy
 */
export function parseEdf(
  bytes: Uint8Array,
  options: Pick<ParseOptions, 'columns' | 'unit'> = {},
): ParsedTrace {
  const header = readEdfHeader(bytes)
  const layout = findEdfLayout(header.signals, options.columns)
  const perRecord = layout.acc[0].samplesPerRecord
  const rateHz = requireRate(snapped(perRecord / header.recordDurationS))
  if (header.records * perRecord > MAX_SAMPLES) {
    throw new TraceError('TOO_LARGE', `more than ${MAX_SAMPLES} samples`, 'Cut the recording into parts.')
  }
  requireSamples(header.records * perRecord)
  const notes: string[] = [...layout.notes]
  const timeline = readTimeline(bytes, header)
  notes.push(...timeline.notes)
  const t = sampleTimes(header, timeline, perRecord, rateHz)
  const count = usedSamples(t, timeline, perRecord, rateHz, notes)
  requireSamples(count)
  const used = t.subarray(0, count)
  requireDuration(used, (i) => ({ line: i + 1, unit: 'sample' }))

  const start = readEdfStart(header.recording, header.startDate, header.startTime)
  if (start.note !== null) notes.push(start.note)
  const extraBytes = bytes.length - header.headerBytes - header.records * header.recordBytes
  if (extraBytes > 0) notes.push(`${extraBytes} bytes after the last data record were not read.`)

  const raw = layout.acc.map((signal) => readSignal(bytes, header, signal, count))
  const accUnit = findAccUnit(raw, { option: options.unit, header: layout.accUnit ?? undefined })
  notes.push(...accUnit.notes)
  const acc = scaled(raw, ACC_FACTOR[accUnit.unit])
  requirePossible(acc, (axis, i) => ({
    line: i + 1,
    unit: 'sample',
    column: layout.acc[axis].label,
    value: String(raw[axis][i]),
  }))
  const gyr = readGyro(bytes, header, layout, count, notes)
  return {
    trace: {
      t: used,
      acc,
      ...(gyr === undefined ? {} : { gyr }),
      startedAtUs: start.startUs === null ? null : start.startUs + Math.round(timeline.startS[0] * 1e6),
      rateHz,
      marks: marksOf(timeline, notes),
    },
    unit: accUnit.unit,
    unitBasis: accUnit.basis,
    stampResolutionS: 0,
    duplicates: 0,
    unusedSamples: 0,
    notes,
  }
}

/** A rate within rounding of a whole number is that number: durations have 8 characters. */
function snapped(rateHz: number): number {
  return Math.abs(rateHz - Math.round(rateHz)) < 1e-6 * rateHz ? Math.round(rateHz) : rateHz
}

/** A record that starts this close to the grid of the samples before it, s, goes on with that grid. */
const GRID_TOLERANCE_S = 1e-6

/** Seconds from the first sample. Records that follow each other share one grid, so that rounding does not show. */
function sampleTimes(
  { records }: EdfHeader,
  { startS }: EdfTimeline,
  perRecord: number,
  rateHz: number,
): Float64Array {
  const t = new Float64Array(records * perRecord)
  let gridFrom = 0
  for (let k = 0; k < records; k++) {
    const onGridS = startS[gridFrom] + ((k - gridFrom) * perRecord) / rateHz
    if (Math.abs(startS[k] - onGridS) > GRID_TOLERANCE_S) gridFrom = k
    const fromS = startS[gridFrom] - startS[0]
    for (let j = 0; j < perRecord; j++) {
      t[k * perRecord + j] = fromS + ((k - gridFrom) * perRecord + j) / rateHz
    }
  }
  const back = t.findIndex((tS, i) => i > 0 && !(tS > t[i - 1]))
  if (back === -1) return t
  throw badEdf(`data record ${Math.floor(back / perRecord) + 1} starts too close to the one before it`)
}

function usedSamples(
  t: Float64Array,
  { startS, annotations }: EdfTimeline,
  perRecord: number,
  rateHz: number,
  notes: string[],
): number {
  const end = annotations.find(({ texts }) => texts.includes(RECORDING_ENDS))
  if (end === undefined) return t.length
  const endS = end.onsetS - startS[0] - 0.01 / rateHz
  let count = t.length
  while (count > Math.max(0, t.length - perRecord) && t[count - 1] >= endS) count--
  if (count < t.length) {
    notes.push(
      `${t.length - count} samples after "${RECORDING_ENDS}" fill up the last data record; left out.`,
    )
  }
  return count
}

function marksOf({ startS, annotations }: EdfTimeline, notes: string[]): Mark[] {
  const durations = annotations.filter(({ hasDuration }) => hasDuration).length
  if (durations > 0) notes.push(`${durations} annotations have a duration, which was not used.`)
  return annotations
    .flatMap(({ onsetS, texts }) => texts.map((text) => markOf(text, roundNs(onsetS - startS[0]))))
    .filter(({ note }) => note !== RECORDING_ENDS)
    .sort((a, b) => a.atS - b.atS)
}

/** Removes the rounding of the difference of two decimal stamps. */
function roundNs(seconds: number): number {
  return Math.round(seconds * 1e9) / 1e9
}

function readGyro(
  bytes: Uint8Array,
  header: EdfHeader,
  { gyr, gyroUnit }: EdfLayout,
  count: number,
  notes: string[],
): Vector3Series | undefined {
  if (gyr === null) return undefined
  const raw = gyr.map((signal) => readSignal(bytes, header, signal, count))
  const unit = gyroUnit ?? guessGyroUnit(raw)
  if (unit === null) {
    notes.push('The gyroscope was not used: neither dimension nor values tell deg/s from rad/s.')
    return undefined
  }
  if (gyroUnit === null) {
    notes.push(`The gyroscope was taken to be in ${unit}, since its values are too large for rad/s.`)
  }
  return scaled(raw, GYRO_FACTOR[unit])
}

function scaled([x, y, z]: readonly Float64Array[], factor: number): Vector3Series {
  const times = (axis: Float64Array) => (factor === 1 ? axis : axis.map((value) => value * factor))
  return { x: times(x), y: times(y), z: times(z) }
}
