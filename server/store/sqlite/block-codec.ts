import { endianness } from 'node:os'
import { promisify } from 'node:util'
import { crc32, deflateRaw, deflateRawSync, inflateRawSync } from 'node:zlib'
import { CorruptBlockError } from '../time-series.ts'
import type { SampleBlock, SampleColumns } from '../time-series.ts'

export interface EncodedBlock {
  readonly dtype: 'float32' | 'float64'
  /** `influx`: the samples are in InfluxDB (see ../influx/), and there are no bytes here. */
  readonly encoding: 'raw' | 'deflate' | 'influx'
  readonly columns: Buffer
  /** CRC-32 (IEEE 802.3, as in zlib) of the stored bytes. */
  readonly crc32: number
}

const IS_LITTLE_ENDIAN = endianness() === 'LE'
const LEVEL = { level: 6 }
const deflateInThread = promisify<Buffer, typeof LEVEL, Buffer>(deflateRaw)

/** As they are, one column after the other, little-endian: cheap enough for every packet. */
export function encodeRaw({ dtype, values }: SampleColumns): EncodedBlock {
  const columns = littleEndian(values, widthOf(dtype))
  return { dtype, encoding: 'raw', columns, crc32: crc32(columns) }
}

/**
 * Deflated, after splitting into byte planes (all first bytes, all second bytes, …): neighbouring
 * samples share sign and exponent.
 */
export function encodeDeflated({ dtype, values }: SampleColumns): EncodedBlock {
  const width = widthOf(dtype)
  const plain = littleEndian(values, width)
  return smaller(dtype, plain, deflateRawSync(toBytePlanes(plain, width), LEVEL))
}

/** The same off the event loop. */
export async function encodeDeflatedInThread({ dtype, values }: SampleColumns): Promise<EncodedBlock> {
  const width = widthOf(dtype)
  const plain = littleEndian(values, width)
  return smaller(dtype, plain, await deflateInThread(toBytePlanes(plain, width), LEVEL))
}

function smaller(dtype: EncodedBlock['dtype'], plain: Buffer, packed: Buffer): EncodedBlock {
  const columns = packed.length < plain.length ? packed : plain
  return { dtype, encoding: columns === plain ? 'raw' : 'deflate', columns, crc32: crc32(columns) }
}

/** Of a block that is here. @throws {CorruptBlockError} naming the block when its bytes are not those that were stored */
export function decodeBlock(
  block: EncodedBlock & { firstIndex: number; count: number },
  columnCount: number,
  stream: string,
): SampleBlock {
  const { dtype, encoding, columns, firstIndex, count } = block
  const width = widthOf(dtype)
  if (encoding === 'influx') throw new Error(`block ${firstIndex} of stream ${stream} is in InfluxDB`)
  if (!isAsStored(block)) throw corrupt(stream, firstIndex, count)
  const plain = encoding === 'raw' ? columns : fromBytePlanes(inflateRawSync(columns), width)
  if (plain.length !== width * count * columnCount) throw corrupt(stream, firstIndex, count)
  const values = Array.from({ length: columnCount }, (_, c) =>
    columnFrom(plain.subarray(c * count * width, (c + 1) * count * width), dtype),
  )
  return { dtype, values, firstIndex, count }
}

/** Whether the bytes of a block that is here are those that were stored. */
export function isAsStored(block: Pick<EncodedBlock, 'columns' | 'crc32'>): boolean {
  return crc32(block.columns) === block.crc32
}

export function corrupt(stream: string, firstIndex: number, count: number): CorruptBlockError {
  return new CorruptBlockError(
    stream,
    { firstIndex, count },
    `the block of stream ${stream} at index ${firstIndex} does not match its checksum; restore it from a backup`,
  )
}

export function widthOf(dtype: EncodedBlock['dtype']): 4 | 8 {
  return dtype === 'float32' ? 4 : 8
}

function littleEndian(values: SampleColumns['values'], width: 4 | 8): Buffer {
  const bytes = Buffer.allocUnsafe(width * values[0].length * values.length)
  let offset = 0
  for (const column of values) {
    bytes.set(new Uint8Array(column.buffer, column.byteOffset, column.byteLength), offset)
    offset += column.byteLength
  }
  if (!IS_LITTLE_ENDIAN) swap(bytes, width)
  return bytes
}

function columnFrom(bytes: Buffer, dtype: EncodedBlock['dtype']): Float32Array | Float64Array {
  // A copy of its own: the bytes of a row lie anywhere, and floats must be aligned.
  const own = new Uint8Array(bytes)
  if (!IS_LITTLE_ENDIAN) swap(Buffer.from(own.buffer), widthOf(dtype))
  return dtype === 'float32' ? new Float32Array(own.buffer) : new Float64Array(own.buffer)
}

function swap(bytes: Buffer, width: 4 | 8): void {
  if (width === 4) bytes.swap32()
  else bytes.swap64()
}

function toBytePlanes(bytes: Buffer, width: number): Buffer {
  const planes = Buffer.allocUnsafe(bytes.length)
  const count = bytes.length / width
  for (let i = 0; i < count; i++) {
    for (let b = 0; b < width; b++) planes[b * count + i] = bytes[i * width + b]
  }
  return planes
}

function fromBytePlanes(planes: Buffer, width: number): Buffer {
  const bytes = Buffer.allocUnsafe(planes.length)
  const count = planes.length / width
  for (let i = 0; i < count; i++) {
    for (let b = 0; b < width; b++) bytes[i * width + b] = planes[b * count + i]
  }
  return bytes
}
