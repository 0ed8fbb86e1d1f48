import { ANNOTATIONS_LABEL } from './edf-header.ts'
import type { WrittenStart } from './edf-start.ts'

export const DIGITAL_MIN = -32768
export const DIGITAL_MAX = 32767

export interface WrittenSignal {
  readonly label: string
  readonly dimension: string
  readonly physicalMin: string
  readonly physicalMax: string
}

export interface WrittenHeader {
  readonly start: WrittenStart
  readonly form: 'EDF+C' | 'EDF+D'
  readonly records: number
  readonly durationS: string
  readonly samplesPerRecord: number
  readonly annotationBytes: number
}

/** Fills the first 256 · (signals + 2) bytes: the header of an anonymous EDF+ file with one annotation signal. */
export function writeEdfHeader(
  bytes: Uint8Array,
  signals: readonly WrittenSignal[],
  { start, form, records, durationS, samplesPerRecord, annotationBytes }: WrittenHeader,
): void {
  const count = signals.length + 1
  let at = 0
  const write = (text: string, length: number): void => {
    for (let i = 0; i < length; i++) bytes[at++] = i < text.length ? text.charCodeAt(i) : 0x20
  }
  const writeAll = (length: number, of: (signal: WrittenSignal) => string, ofAnnotations: string): void => {
    for (const signal of signals) write(of(signal), length)
    write(ofAnnotations, length)
  }
  write('0', 8)
  write('X X X X', 80)
  write(start.recording, 80)
  write(start.date, 8)
  write(start.time, 8)
  write(String(256 * (count + 1)), 8)
  write(form, 44)
  write(String(records), 8)
  write(durationS, 8)
  write(String(count), 4)
  writeAll(16, ({ label }) => label, ANNOTATIONS_LABEL)
  writeAll(80, ({ dimension }) => (dimension === 'rad/s' ? 'gyroscope' : 'accelerometer'), '')
  writeAll(8, ({ dimension }) => dimension, '')
  writeAll(8, ({ physicalMin }) => physicalMin, '-1')
  writeAll(8, ({ physicalMax }) => physicalMax, '1')
  writeAll(8, () => String(DIGITAL_MIN), String(DIGITAL_MIN))
  writeAll(8, () => String(DIGITAL_MAX), String(DIGITAL_MAX))
  writeAll(80, () => '', '')
  writeAll(8, () => String(samplesPerRecord), String(annotationBytes / 2))
  writeAll(32, () => '', '')
}
