import { badEdf } from './edf-header.ts'
import { readAnnotations } from './edf-annotations.ts'
import { TraceError } from './trace-error.ts'
import type { AnnotationList } from './edf-annotations.ts'
import type { EdfHeader, EdfSignal } from './edf-header.ts'

/** When each record starts, and what was noted. */
export interface EdfTimeline {
  /** Seconds from the start date and time of the file, one per record, ascending. */
  readonly startS: Float64Array
  /** Annotations other than the times of the records. */
  readonly annotations: readonly AnnotationList[]
  readonly notes: readonly string[]
}

/**
 * Times of the records. In EDF+ the first list of the first annotation signal of a record tells its
 * start; plain EDF records follow each other without gaps, and so must those of EDF+C.
 *
 * @throws {TraceError} BAD_EDF, and TIME_ORDER when a record starts before the one before it ends
 */
export function readTimeline(bytes: Uint8Array, header: EdfHeader): EdfTimeline {
  const { form, records, recordDurationS } = header
  const keepers = form === 'EDF' ? [] : header.signals.filter((signal) => signal.isAnnotations)
  const startS = new Float64Array(records)
  const annotations: AnnotationList[] = []
  const notes: string[] = []
  if (form === 'EDF+D' && keepers.length === 0) {
    throw badEdf('the file says it has gaps (EDF+D) but has no "EDF Annotations" signal to tell where')
  }
  const sampled = header.signals.filter((signal) => !signal.isAnnotations)
  const shortestS = recordDurationS / Math.max(1, ...sampled.map((signal) => signal.samplesPerRecord))
  let originS = 0
  for (let k = 0; k < records; k++) {
    const lists = keepers.map((signal) => readAnnotations(cut(bytes, header, signal, k), k + 1))
    const keeper = lists[0]?.[0]
    const keptS = keeper !== undefined && keeper.texts[0] === '' ? keeper.onsetS : null
    if (keptS === null && form === 'EDF+D') {
      throw badEdf(`data record ${k + 1} does not tell when it starts, which EDF+D requires`)
    }
    if (k === 0) originS = keptS ?? 0
    // From the first record, not from the last one: rounding must not add up.
    const nextS = originS + k * recordDurationS
    startS[k] = form === 'EDF+D' ? keptS! : nextS
    if (form !== 'EDF+D' && keptS !== null && Math.abs(keptS - nextS) > shortestS && notes.length === 0) {
      notes.push(
        `Data record ${k + 1} says it starts at ${keptS} s, but the file says it has no gaps; it was put at ${nextS} s.`,
      )
    }
    for (const list of lists.flat()) {
      const texts = list === keeper && keptS !== null ? list.texts.slice(1) : list.texts
      const some = texts.filter((text) => text !== '')
      if (some.length > 0) annotations.push({ ...list, texts: some })
    }
    const overlapS = k === 0 ? 0 : startS[k - 1] + recordDurationS - startS[k]
    if (overlapS > shortestS / 2) throw overlaps(k + 1, overlapS)
  }
  return { startS, annotations, notes }
}

function overlaps(record: number, byS: number): TraceError {
  return new TraceError(
    'TIME_ORDER',
    `data record ${record} starts ${byS.toPrecision(3)} s before the one before it ends`,
    'Export the recording again; records must follow each other in time.',
  )
}

/** The bytes of a signal in record `record` (from 0). */
function cut(bytes: Uint8Array, header: EdfHeader, signal: EdfSignal, record: number): Uint8Array {
  const at = header.headerBytes + record * header.recordBytes + signal.offsetBytes
  return bytes.subarray(at, at + 2 * signal.samplesPerRecord)
}

/**
 * All samples of a signal in physical units:
 * (digital − digital minimum) · (physical range) / (digital range) + physical minimum.
 *
 * @param count how many samples from the start of the file to read
 * @throws {TraceError} BAD_EDF when the scale of the signal is none
 */
export function readSignal(
  bytes: Uint8Array,
  header: EdfHeader,
  signal: EdfSignal,
  count: number,
): Float64Array {
  const { digitalMin, digitalMax, physicalMin, physicalMax, samplesPerRecord } = signal
  const gain = (physicalMax - physicalMin) / (digitalMax - digitalMin)
  if (!(Number.isFinite(gain) && gain !== 0 && digitalMax > digitalMin)) {
    throw badEdf(
      `the signal "${signal.label}" has no scale: digital ${digitalMin} to ${digitalMax} stand for ` +
        `${physicalMin} to ${physicalMax}`,
    )
  }
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  const samples = new Float64Array(count)
  for (let i = 0; i < count; i++) {
    const record = Math.floor(i / samplesPerRecord)
    const at = header.headerBytes + record * header.recordBytes + signal.offsetBytes
    const digital = view.getInt16(at + 2 * (i - record * samplesPerRecord), true)
    samples[i] = (digital - digitalMin) * gain + physicalMin
  }
  return samples
}
