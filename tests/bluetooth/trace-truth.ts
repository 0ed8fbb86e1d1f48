import { MS2_PER_COUNT } from './generic-packets.ts'

/** A stored trace beside what the sensor sent. */
export interface TraceTruth {
  /** Sensor sample that the trace's sample 0 is; exactly one fits, or the comparison fails. */
  readonly firstSample: number
  /** Samples of the sensor that the trace has, in its order. */
  readonly stored: readonly number[]
  /** Samples that were sent between the trace's first and last and are not in it. */
  readonly missing: readonly number[]
}

/**
 * Compares `trace.csv` with the counts of the sensor, every sample at its own place: values to a hundredth of a
 * count, since the scale travels as float32 and the file has decimals.
 *
 * @throws {Error} when no start, or more than one, puts every sample where the sensor had it
 */
export function compareWithSensor(
  csv: string,
  rateHz: number,
  counts: Int16Array,
  sent: { packets: readonly number[]; samplesPerPacket: number },
): TraceTruth {
  const rows = csv
    .split('\n')
    .filter((line) => /^-?\d/.test(line))
    .map((line) => line.split(',').map(Number))
  const indices = rows.map(([t]) => Math.round(t * rateHz))
  const fits = (start: number) =>
    rows.every(([, ...acc], row) =>
      [0, 1, 2].every(
        (axis) => Math.abs(acc[axis] / MS2_PER_COUNT - counts[3 * (start + indices[row]) + axis]) < 0.01,
      ),
    )
  const starts = [...new Set(sent.packets)].map((packet) => packet * sent.samplesPerPacket).filter(fits)
  if (starts.length !== 1) {
    throw new Error(`${starts.length} starts put all ${rows.length} samples where the sensor had them`)
  }
  const [firstSample] = starts
  const stored = indices.map((index) => firstSample + index)
  const has = new Set(stored)
  const last = Math.max(...stored)
  const missing = [...new Set(sent.packets)]
    .flatMap((packet) =>
      Array.from({ length: sent.samplesPerPacket }, (_, i) => packet * sent.samplesPerPacket + i),
    )
    .filter((sample) => sample >= firstSample && sample <= last && !has.has(sample))
  return { firstSample, stored, missing }
}
