import { shorten, TraceError } from './trace-error.ts'

/** One signal of an EDF file, as the header describes it. */
export interface EdfSignal {
  readonly label: string
  readonly dimension: string
  readonly physicalMin: number
  readonly physicalMax: number
  readonly digitalMin: number
  readonly digitalMax: number
  readonly samplesPerRecord: number
  /** Bytes from the start of a record to the first sample of this signal. */
  readonly offsetBytes: number
  readonly isAnnotations: boolean
}

export interface EdfHeader {
  /** `EDF` has neither annotations nor record times; `EDF+D` may have gaps between records. */
  readonly form: 'EDF' | 'EDF+C' | 'EDF+D'
  readonly recording: string
  /** dd.mm.yy and hh.mm.ss as written. */
  readonly startDate: string
  readonly startTime: string
  readonly headerBytes: number
  readonly recordBytes: number
  readonly records: number
  readonly recordDurationS: number
  readonly signals: readonly EdfSignal[]
}

const FIXED_BYTES = 256
export const ANNOTATIONS_LABEL = 'EDF Annotations'
const REMEDY = 'Export the recording again, or open and save it with an EDF viewer.'

/**
 * True for a file that begins like EDF: version "0", padded to 8 characters, and no line break in
 * what would be the header. Also true for BDF, its 24-bit sister, which `parseEdf` refuses in words.
 */
export function isEdf(bytes: Uint8Array): boolean {
  if (isBdf(bytes)) return true
  return ascii(bytes, 0, 8) === '0       ' && !/[\r\n]/.test(ascii(bytes, 8, FIXED_BYTES))
}

/**
 * The header of an EDF or EDF+ file (Kemp et al. 1992; Kemp & Olivan 2003; edfplus.info/specs), every
 * field checked against the others and against the length of the file: nothing is allocated on its word.
 *
 * @throws {TraceError} EMPTY, BAD_EDF
 */
export function readEdfHeader(bytes: Uint8Array): EdfHeader {
  if (bytes.length === 0) {
    throw new TraceError('EMPTY', 'the file is empty', 'Choose the file that holds the samples.')
  }
  if (isBdf(bytes)) throw badEdf('this is a BDF file of 24-bit samples', 'Export it as EDF+ (16 bit) or CSV.')
  const version = ascii(bytes, 0, 8).trim()
  if (version !== '0') {
    throw badEdf(
      `the version of the format reads "${shorten(version)}" instead of "0"`,
      'Choose an EDF file.',
    )
  }
  if (bytes.length < FIXED_BYTES) throw truncated(bytes.length, FIXED_BYTES, 'the header')
  const field = (at: number, length: number) => ascii(bytes, at, at + length).trim()
  const count = integer(field(252, 4), 'number of signals', 1, 9999)
  const headerBytes = FIXED_BYTES * (count + 1)
  const said = integer(field(184, 8), 'number of bytes in the header', 0, 1e8)
  if (said !== headerBytes) {
    throw badEdf(`the header says it is ${said} bytes long; ${count} signals need ${headerBytes}`)
  }
  if (bytes.length < headerBytes) throw truncated(bytes.length, headerBytes, 'the header')
  const records = integer(field(236, 8), 'number of data records', -1, 1e8)
  if (records === -1) {
    throw badEdf(
      'the number of data records is −1, as in a recording that was never closed',
      'Open and close it with the program that recorded it, or export it as CSV.',
    )
  }
  const recordDurationS = decimal(field(244, 8), 'duration of a data record')
  if (!(recordDurationS > 0)) throw badEdf(`a data record of ${recordDurationS} s holds no samples in time`)
  const signals = readSignals(bytes, count)
  const recordBytes = signals.reduce((sum, signal) => sum + 2 * signal.samplesPerRecord, 0)
  const neededBytes = headerBytes + records * recordBytes
  if (bytes.length < neededBytes) {
    const whole = Math.floor((bytes.length - headerBytes) / Math.max(recordBytes, 1))
    throw truncated(bytes.length, neededBytes, `the data (${whole} of ${records} records are whole)`)
  }
  return {
    form: formOf(field(192, 44)),
    recording: field(88, 80),
    startDate: field(168, 8),
    startTime: field(176, 8),
    headerBytes,
    recordBytes,
    records,
    recordDurationS,
    signals,
  }
}

function readSignals(bytes: Uint8Array, count: number): EdfSignal[] {
  let offsetBytes = 0
  return Array.from({ length: count }, (_, i) => {
    // The header holds all labels, then all transducers, and so on: `before` bytes per signal stand before the field.
    const field = (before: number, length: number): string => {
      const at = FIXED_BYTES + before * count + length * i
      return ascii(bytes, at, at + length).trim()
    }
    const label = field(0, 16)
    const name = `of signal ${i + 1} ("${shorten(label)}")`
    const signal: EdfSignal = {
      label,
      dimension: field(96, 8),
      physicalMin: decimal(field(104, 8), `physical minimum ${name}`),
      physicalMax: decimal(field(112, 8), `physical maximum ${name}`),
      digitalMin: integer(field(120, 8), `digital minimum ${name}`, -32768, 32767),
      digitalMax: integer(field(128, 8), `digital maximum ${name}`, -32768, 32767),
      samplesPerRecord: integer(field(216, 8), `number of samples in a data record ${name}`, 0, 1e8),
      offsetBytes,
      isAnnotations: label === ANNOTATIONS_LABEL,
    }
    offsetBytes += 2 * signal.samplesPerRecord
    return signal
  })
}

/** The error for a file that is not the EDF it says it is. */
export function badEdf(what: string, remedy = REMEDY): TraceError {
  return new TraceError('BAD_EDF', what, remedy)
}

function formOf(reserved: string): EdfHeader['form'] {
  if (reserved.startsWith('EDF+D')) return 'EDF+D'
  return reserved.startsWith('EDF+C') ? 'EDF+C' : 'EDF'
}

function isBdf(bytes: Uint8Array): boolean {
  return bytes[0] === 0xff && ascii(bytes, 1, 8) === 'BIOSEMI'
}

/** Bytes as characters, one each; writers that pad with zeros are read as if they padded with blanks. */
function ascii(bytes: Uint8Array, from: number, to: number): string {
  return String.fromCharCode(...bytes.subarray(from, to)).replace(/\0/g, ' ')
}

function integer(text: string, what: string, from: number, to: number): number {
  const value = Number(text)
  if (/^[+-]?\d+$/.test(text) && value >= from && value <= to) return value
  const range = /^[+-]?\d+$/.test(text) ? ` (it must lie from ${from} to ${to})` : ', not a whole number'
  throw badEdf(`the ${what} reads "${shorten(text)}"${range}`)
}

function decimal(text: string, what: string): number {
  const value = Number(text)
  if (/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(text) && Number.isFinite(value)) return value
  throw badEdf(
    `the ${what} reads "${shorten(text)}", not a number`,
    'Numbers of an EDF header are written with a decimal point, without digit grouping. Export it again.',
  )
}

function truncated(got: number, needed: number, part: string): TraceError {
  return badEdf(
    `the file ends within ${part}: it has ${got} of ${needed} bytes`,
    'Copy or export the file again, completely.',
  )
}
