import { ANNOTATIONS_LABEL } from './edf-header.ts'
import { writtenStart } from './edf-start.ts'
import { encodeUtf8 } from './utf8.ts'
import { DIGITAL_MAX, DIGITAL_MIN, writeEdfHeader } from './edf-write-header.ts'
import { MAX_RECORD_BYTES, recordSize } from './edf-records-size.ts'
import { numberField } from './edf-field.ts'
import { RECORDING_ENDS } from './edf-read.ts'
import { textOf } from './edf-annotations.ts'
import type { Mark, UniformTrace, Vector3Series } from './trace.ts'
import type { RecordSize } from './edf-records-size.ts'
import type { WrittenSignal } from './edf-write-header.ts'

type Labels = readonly [string, string, string]

/** What `formatEdf` writes: even samples, marks in seconds from the start of the trace, and its start. */
export interface EdfRecording extends Pick<UniformTrace, 'rateHz' | 'stretches'> {
  readonly marks: readonly Mark[]
  /** UTC microseconds of second 0 of the trace, when known. */
  readonly startedAtUs: number | null
  /** Minutes local time was ahead of UTC: the header of EDF holds local time. Default 0. */
  readonly utcOffsetMin?: number
  /** Names of the signals, up to 16 printable ASCII characters each. Default "Acc X" … and "Gyr X" …. */
  readonly labels?: { readonly acc?: Labels; readonly gyr?: Labels }
}

const ACC_LABELS: Labels = ['Acc X', 'Acc Y', 'Acc Z']
const GYR_LABELS: Labels = ['Gyr X', 'Gyr Y', 'Gyr Z']
/** Fits the memory of a browser; months of samples, or megabytes of notes, go beyond. */
const MAX_FILE_BYTES = 2 ** 29

/**
 * The recording as an EDF+ file (Kemp & Olivan 2003; https://www.edfplus.info/specs/edfplus.html):
 * EDF+C, or EDF+D when there are gaps; acceleration in m/s^2 and angular rate in rad/s as 16-bit integers
 * over the range of each signal, so that a value is off by at most half of 1/65535 of that range; marks as
 * annotations (`markOf` tells how they read). Patient and recording stay anonymous. The start is written
 * to the second in local time with the zone behind it ("UTC+01:00", a subfield of our own), its fraction
 * and the times of records and marks to 0.1 µs. When the last record cannot be filled with samples it
 * repeats the last one, and the standard annotation "Recording ends" tells from where.
 *
 * @throws {RangeError} without samples, for values that are not finite or beyond 8 characters, for labels
 *   that do not fit, and for files beyond 512 MB
 */
export function formatEdf(recording: EdfRecording): Uint8Array {
  const { rateHz, stretches } = recording
  const lengths = stretches.map(({ acc }) => acc.x.length)
  if (lengths.length === 0 || lengths.some((length) => length === 0)) {
    throw new RangeError('formatEdf requires at least one stretch, each with samples')
  }
  if (!(rateHz > 0 && Number.isFinite(rateHz)))
    throw new RangeError(`formatEdf requires rateHz > 0, got ${rateHz}`)
  const signals = signalsOf(recording)
  const annotationRoom = MAX_RECORD_BYTES / 4
  const size = recordSize(
    lengths,
    rateHz,
    Math.floor((MAX_RECORD_BYTES - annotationRoom) / (2 * signals.length)),
  )
  const start = writtenStart(startOfFirst(recording), recording.utcOffsetMin ?? 0)
  const records = recordsOf(recording, lengths, size, start.fractionS)
  const lists = annotationLists(recording, records, size, start.fractionS)
  const annotationBytes = 2 * Math.ceil(lists.reduce((most, list) => Math.max(most, list.length), 0) / 2)
  const recordBytes = 2 * size.samples * signals.length + annotationBytes
  const headerBytes = 256 * (signals.length + 2)
  const totalBytes = headerBytes + records.length * recordBytes
  if (totalBytes > MAX_FILE_BYTES) {
    throw new RangeError(`formatEdf requires a file of at most ${MAX_FILE_BYTES} bytes, got ${totalBytes}`)
  }
  const bytes = new Uint8Array(totalBytes)
  writeEdfHeader(bytes, signals, {
    start,
    form: stretches.length > 1 ? 'EDF+D' : 'EDF+C',
    records: records.length,
    durationS: size.durationS,
    samplesPerRecord: size.samples,
    annotationBytes,
  })
  const view = new DataView(bytes.buffer)
  records.forEach(({ stretch, from }, k) => {
    let at = headerBytes + k * recordBytes
    for (const { series, digital } of signals) {
      const samples = series[stretch]
      for (let j = 0; j < size.samples; j++, at += 2) {
        view.setInt16(at, digital(samples[Math.min(from + j, samples.length - 1)]), true)
      }
    }
    bytes.set(lists[k], at)
  })
  return bytes
}

interface Signal extends WrittenSignal {
  /** One array per stretch. */
  readonly series: readonly Float64Array[]
  readonly digital: (value: number) => number
}

/** UTC microseconds of the first sample written. */
function startOfFirst({ startedAtUs, stretches }: EdfRecording): number | null {
  return startedAtUs === null ? null : startedAtUs + Math.round(stretches[0].startS * 1e6)
}

function signalsOf({ stretches, labels }: EdfRecording): Signal[] {
  const axes = ['x', 'y', 'z'] as const
  const triple = (names: Labels, dimension: string, of: readonly Vector3Series[]) =>
    axes.map((axis, i) =>
      signalOf(
        names[i],
        dimension,
        of.map((series) => series[axis]),
      ),
    )
  const acc = triple(
    labels?.acc ?? ACC_LABELS,
    'm/s^2',
    stretches.map((stretch) => stretch.acc),
  )
  const gyr = stretches.flatMap((stretch) => stretch.gyr ?? [])
  if (gyr.length > 0 && gyr.length < stretches.length) {
    throw new RangeError('formatEdf requires the gyroscope in all stretches or in none')
  }
  return gyr.length === 0 ? acc : [...acc, ...triple(labels?.gyr ?? GYR_LABELS, 'rad/s', gyr)]
}

function signalOf(label: string, dimension: string, series: readonly Float64Array[]): Signal {
  if (!/^[ -~]{1,16}$/.test(label) || label.trim() === ANNOTATIONS_LABEL) {
    throw new RangeError(`formatEdf requires labels of 1 to 16 printable ASCII characters, got "${label}"`)
  }
  let min = Infinity
  let max = -Infinity
  for (const value of series.flatMap((stretch) => [extreme(stretch, Math.min), extreme(stretch, Math.max)])) {
    min = Math.min(min, value)
    max = Math.max(max, value)
  }
  const physicalMin = numberField(min, 'down')
  const least = numberField(max, 'up')
  const physicalMax = Number(least) > Number(physicalMin) ? least : numberField(Number(physicalMin) + 1, 'up')
  const low = Number(physicalMin)
  const steps = (DIGITAL_MAX - DIGITAL_MIN) / (Number(physicalMax) - low)
  return {
    label,
    dimension,
    physicalMin,
    physicalMax,
    series,
    digital: (value) => Math.round((value - low) * steps) + DIGITAL_MIN,
  }
}

/** NaN and infinities come through, and are refused by the header field. */
function extreme(values: Float64Array, pick: (a: number, b: number) => number): number {
  return values.reduce((found, value) => pick(found, value), values[0])
}

interface DataRecord {
  readonly stretch: number
  /** First sample within the stretch. */
  readonly from: number
  /** Seconds from the start date and time of the file. */
  readonly onsetS: number
}

function recordsOf(
  { rateHz, stretches }: EdfRecording,
  lengths: readonly number[],
  { samples, durationS }: RecordSize,
  fractionS: number,
): DataRecord[] {
  // Records of EDF+C follow each other by the duration as written; those of EDF+D tell the true time.
  const periodS = stretches.length > 1 ? samples / rateHz : Number(durationS)
  return lengths.flatMap((length, stretch) =>
    Array.from({ length: Math.ceil(length / samples) }, (_, k) => ({
      stretch,
      from: k * samples,
      onsetS: fractionS + (stretches[stretch].startS - stretches[0].startS) + k * periodS,
    })),
  )
}

/** The annotation signal of each record: its time, then the marks until the next record starts. */
function annotationLists(
  { rateHz, stretches, marks }: EdfRecording,
  records: readonly DataRecord[],
  { filling }: RecordSize,
  fractionS: number,
): Uint8Array[] {
  const originS = fractionS - stretches[0].startS
  const texts = marks.map((mark) => ({ onsetS: mark.atS + originS, text: textOf(mark) }))
  if (filling > 0) {
    const last = stretches[stretches.length - 1]
    const onsetS = last.startS + originS + last.acc.x.length / rateHz
    texts.push({ onsetS, text: RECORDING_ENDS })
  }
  texts.sort((a, b) => a.onsetS - b.onsetS)
  let next = 0
  return records.map(({ onsetS }, k) => {
    const untilS = k + 1 < records.length ? records[k + 1].onsetS : Infinity
    let lists = `${stamp(onsetS)}\x14\x14\0`
    for (; next < texts.length && texts[next].onsetS < untilS; next++) {
      lists += `${stamp(texts[next].onsetS)}\x14${texts[next].text}\x14\0`
    }
    return encodeUtf8(lists)
  })
}

/** Signed seconds to 0.1 µs, without exponent and without zeros at the end. */
function stamp(seconds: number): string {
  const text = Math.abs(seconds)
    .toFixed(7)
    .replace(/\.?0+$/, '')
  return `${seconds < 0 && text !== '0' ? '-' : '+'}${text}`
}
