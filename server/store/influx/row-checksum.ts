import { crc32 } from 'node:zlib'
import type { SampleColumns } from '../time-series.ts'

/**
 * CRC-32 of samples one after the other, each with its values in order, little-endian in their own type: unlike one
 * over whole columns it can be joined when blocks are (see crc32-combine.ts).
 */
export function rowChecksum({ dtype, values }: SampleColumns): number {
  const count = values[0].length
  const width = dtype === 'float32' ? 4 : 8
  const bytes = Buffer.allocUnsafe(width * values.length * count)
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  let offset = 0
  for (let i = 0; i < count; i++) {
    for (const column of values) {
      if (width === 4) view.setFloat32(offset, column[i], true)
      else view.setFloat64(offset, column[i], true)
      offset += width
    }
  }
  return crc32(bytes)
}
