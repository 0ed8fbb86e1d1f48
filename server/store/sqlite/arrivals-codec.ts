import type { Arrival } from '../time-series.ts'
import type { SampleBlocksTable } from './schema.ts'

export type ArrivalRow = Pick<SampleBlocksTable, 'first_index' | 'count' | 'arrived_at_us' | 'arrivals'>

/** Little-endian u32 and f64. */
const BYTES = 12

/** When the packets of a block arrived: index of the last sample, counted from the block, and UTC µs. */
export function encodeArrivals(firstIndex: number, arrivals: readonly Arrival[]): Buffer | null {
  if (arrivals.length === 0) return null
  const bytes = Buffer.allocUnsafe(arrivals.length * BYTES)
  for (const [i, { index, arrivedAtUs }] of arrivals.entries()) {
    bytes.writeUInt32LE(index - firstIndex, i * BYTES)
    bytes.writeDoubleLE(arrivedAtUs, i * BYTES + 4)
  }
  return bytes
}

function decodeArrivals(firstIndex: number, bytes: Buffer): Arrival[] {
  return Array.from({ length: bytes.length / BYTES }, (_, i) => ({
    index: firstIndex + bytes.readUInt32LE(i * BYTES),
    arrivedAtUs: bytes.readDoubleLE(i * BYTES + 4),
  }))
}

/** What a block knows of its packets: those it was made of, or itself. */
export function arrivalsOf({ first_index, count, arrived_at_us, arrivals }: ArrivalRow): Arrival[] {
  if (arrivals) return decodeArrivals(first_index, arrivals)
  return arrived_at_us === null ? [] : [{ index: first_index + count - 1, arrivedAtUs: arrived_at_us }]
}
