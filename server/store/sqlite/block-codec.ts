import { crc32, deflateRawSync, inflateRawSync } from 'node:zlib'
import { CorruptBlockError } from '../time-series.ts'
import type { SampleBlock, SampleColumns } from '../time-series.ts'

export interface EncodedBlock {
  readonly dtype: 'float32' | 'float64'
  readonly encoding: 'raw' | 'deflate'
  readonly columns: Buffer
  /** CRC-32 (IEEE 802.3, as in zlib) of the stored bytes. */
  readonly crc32: number
}

/** Smaller blocks do not pay for their own compression. */
const MIN_DEFLATE_BYTES = 512

/**
 * One column after the other, little-endian. Longer blocks are split into byte planes (all first
 * bytes, all second bytes, …) and deflated: neighbouring samples share sign and exponent.
 */
export function encodeBlock({ dtype, values }: SampleColumns): EncodedBlock {
  const width = dtype === 'float32' ? 4 : 8
  const count = values[0].length
  const plain = Buffer.alloc(width * count * values.length)
  let offset = 0
  for (const column of values) {
    for (let i = 0; i < count; i++, offset += width) {
      if (width === 4) plain.writeFloatLE(column[i], offset)
      else plain.writeDoubleLE(column[i], offset)
    }
  }
  const packed =
    plain.length < MIN_DEFLATE_BYTES ? null : deflateRawSync(toBytePlanes(plain, width), { level: 6 })
  const columns = packed && packed.length < plain.length ? packed : plain
  return { dtype, encoding: columns === plain ? 'raw' : 'deflate', columns, crc32: crc32(columns) }
}

/** @throws {CorruptBlockError} naming the block when its bytes are not those that were stored */
export function decodeBlock(
  block: EncodedBlock & { firstIndex: number; count: number },
  columnCount: number,
  stream: string,
): SampleBlock {
  const { dtype, encoding, columns, firstIndex, count } = block
  const width = dtype === 'float32' ? 4 : 8
  const size = width * count * columnCount
  if (crc32(columns) !== block.crc32) throw corrupt(stream, firstIndex)
  const plain = encoding === 'raw' ? columns : fromBytePlanes(inflateRawSync(columns), width)
  if (plain.length !== size) throw corrupt(stream, firstIndex)
  const values = Array.from({ length: columnCount }, (_, c) => {
    const column = dtype === 'float32' ? new Float32Array(count) : new Float64Array(count)
    for (let i = 0; i < count; i++) {
      const offset = (c * count + i) * width
      column[i] = width === 4 ? plain.readFloatLE(offset) : plain.readDoubleLE(offset)
    }
    return column
  })
  return { dtype, values, firstIndex, count }
}

function corrupt(stream: string, firstIndex: number): CorruptBlockError {
  return new CorruptBlockError(
    `the block of stream ${stream} at index ${firstIndex} does not match its checksum; restore it from a backup`,
  )
}

function toBytePlanes(bytes: Buffer, width: number): Buffer {
  const planes = Buffer.alloc(bytes.length)
  const count = bytes.length / width
  for (let i = 0; i < count; i++) {
    for (let b = 0; b < width; b++) planes[b * count + i] = bytes[i * width + b]
  }
  return planes
}

function fromBytePlanes(planes: Buffer, width: number): Buffer {
  const bytes = Buffer.alloc(planes.length)
  const count = planes.length / width
  for (let i = 0; i < count; i++) {
    for (let b = 0; b < width; b++) bytes[i * width + b] = planes[b * count + i]
  }
  return bytes
}
