/**
 * Packets of the generic IMU layout v1, acceleration, written as a firmware author would from its
 * description: 0x13, flags, count, spare, u32 counter of the first sample, u32 µs of the first sample, then
 * x y z as i16 of 1/4096 g; little-endian.
 */
const HEADER_BYTES = 12
export const MS2_PER_COUNT = 9.80665 / 4096

export interface GenericPackets {
  /** x, y, z interleaved, as the sensor's converter gave them. */
  readonly counts: Int16Array
  readonly samplesPerPacket: number
  readonly rateHz: number
}

/** Hex, one per packet; a last packet that would not be full is left out. */
export function genericPackets({ counts, samplesPerPacket, rateHz }: GenericPackets): string[] {
  const packets: string[] = []
  const total = Math.floor(counts.length / 3 / samplesPerPacket)
  for (let k = 0; k < total; k++) {
    const first = k * samplesPerPacket
    const bytes = Buffer.alloc(HEADER_BYTES + 6 * samplesPerPacket)
    bytes.writeUInt8(0x13, 0)
    bytes.writeUInt8(samplesPerPacket, 2)
    bytes.writeUInt32LE(first, 4)
    bytes.writeUInt32LE(Math.round((first / rateHz) * 1e6) >>> 0, 8)
    for (let i = 0; i < 3 * samplesPerPacket; i++) {
      bytes.writeInt16LE(counts[3 * first + i], HEADER_BYTES + 2 * i)
    }
    packets.push(bytes.toString('hex'))
  }
  return packets
}
