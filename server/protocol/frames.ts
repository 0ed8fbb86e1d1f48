/**
 * Binary sample frames, sender → server. Little-endian, 32-byte header:
 *
 * | offset | type | field |
 * |---|---|---|
 * | 0 | u8 | 0x53 (`S`): a frame that starts otherwise is refused |
 * | 1 | u8 | frame format version, 1 |
 * | 2 | u8 | encoding: 0 float32, 1 int16, 2 lost (no payload: these samples never arrived) |
 * | 3 | u8 | channels: 3 (ax ay az) or 6 (ax ay az gx gy gz) |
 * | 4 | u32 | count: samples in the frame, 1..4096 (a lost frame may span 1..2³²−1) |
 * | 8 | f64 | firstIndex: index of the first sample since the start of the stream |
 * | 16 | f64 | arrivedAtUs: UTC µs at which the sender received the last sample |
 * | 24 | f32 | scale: SI units per count for int16 (acceleration channels), else 0 |
 * | 28 | f32 | gyroscope scale for int16 with 6 channels, else 0 |
 *
 * Payload: samples in order, channels interleaved. Acceleration in m/s² (specific force), angular
 * rate in rad/s. Values must be finite.
 */
export type FrameEncoding = 'float32' | 'int16' | 'lost'

export interface SampleFrame {
  readonly firstIndex: number
  readonly count: number
  readonly channels: 3 | 6
  readonly encoding: FrameEncoding
  readonly arrivedAtUs: number
  /** One array of `count` values per channel in SI units; empty for a lost frame. */
  readonly values: readonly Float64Array[]
}

const MAGIC = 0x53
const FORMAT_VERSION = 1
export const FRAME_HEADER_BYTES = 32
export const MAX_FRAME_SAMPLES = 4096
const ENCODINGS: readonly FrameEncoding[] = ['float32', 'int16', 'lost']

/** Bytes that are not a valid frame; `message` says which field is wrong. */
export class FrameError extends Error {
  override readonly name = 'FrameError'
}

export interface FrameScale {
  readonly accMs2PerCount: number
  readonly gyrRadSPerCount: number
}

/**
 * Encodes a frame. float32 needs no scale; int16 needs the sensor's counts per SI unit and throws
 * a RangeError when a value does not fit.
 */
export function encodeFrame(frame: SampleFrame, scale?: FrameScale): Uint8Array<ArrayBuffer> {
  const bytesPerValue = frame.encoding === 'float32' ? 4 : frame.encoding === 'int16' ? 2 : 0
  const bytes = new Uint8Array(FRAME_HEADER_BYTES + bytesPerValue * frame.channels * frame.count)
  const view = new DataView(bytes.buffer)
  view.setUint8(0, MAGIC)
  view.setUint8(1, FORMAT_VERSION)
  view.setUint8(2, ENCODINGS.indexOf(frame.encoding))
  view.setUint8(3, frame.channels)
  view.setUint32(4, frame.count, true)
  view.setFloat64(8, frame.firstIndex, true)
  view.setFloat64(16, frame.arrivedAtUs, true)
  if (frame.encoding === 'lost') return bytes
  if (frame.encoding === 'int16') {
    if (!scale) throw new RangeError('encodeFrame requires a scale for int16 frames')
    view.setFloat32(24, scale.accMs2PerCount, true)
    view.setFloat32(28, scale.gyrRadSPerCount, true)
  }
  let offset = FRAME_HEADER_BYTES
  for (let i = 0; i < frame.count; i++) {
    for (let c = 0; c < frame.channels; c++) {
      const value = frame.values[c][i]
      if (frame.encoding === 'float32') {
        view.setFloat32(offset, value, true)
      } else {
        const counts = Math.round(value / (c < 3 ? scale!.accMs2PerCount : scale!.gyrRadSPerCount))
        if (counts < -32768 || counts > 32767) {
          throw new RangeError(`encodeFrame: ${value} does not fit 16 bits at the given scale`)
        }
        view.setInt16(offset, counts, true)
      }
      offset += bytesPerValue
    }
  }
  return bytes
}

/** Decodes a frame. @throws {FrameError} naming the wrong field, for anything that is not a valid frame */
export function decodeFrame(bytes: Uint8Array): SampleFrame {
  if (bytes.byteLength < FRAME_HEADER_BYTES) {
    throw new FrameError(`a frame has at least ${FRAME_HEADER_BYTES} bytes, got ${bytes.byteLength}`)
  }
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  if (view.getUint8(0) !== MAGIC) throw new FrameError(`a frame starts with byte 83, got ${view.getUint8(0)}`)
  if (view.getUint8(1) !== FORMAT_VERSION) {
    throw new FrameError(`frame format ${view.getUint8(1)} is not known; this server reads format 1`)
  }
  const encoding = ENCODINGS[view.getUint8(2)]
  if (!encoding) throw new FrameError(`encoding ${view.getUint8(2)} is not known; use 0, 1 or 2`)
  const channels = view.getUint8(3)
  if (channels !== 3 && channels !== 6) throw new FrameError(`channels must be 3 or 6, got ${channels}`)
  const count = view.getUint32(4, true)
  const firstIndex = view.getFloat64(8, true)
  const arrivedAtUs = view.getFloat64(16, true)
  if (count < 1 || (encoding !== 'lost' && count > MAX_FRAME_SAMPLES)) {
    throw new FrameError(`count must be 1..${MAX_FRAME_SAMPLES}, got ${count}`)
  }
  if (!Number.isSafeInteger(firstIndex) || firstIndex < 0) {
    throw new FrameError(`firstIndex must be a whole number from 0, got ${firstIndex}`)
  }
  if (!Number.isFinite(arrivedAtUs)) throw new FrameError('arrivedAtUs must be finite')
  if (encoding === 'lost') {
    if (bytes.byteLength !== FRAME_HEADER_BYTES) throw new FrameError('a lost frame has no payload')
    return { firstIndex, count, channels, encoding, arrivedAtUs, values: [] }
  }
  return {
    firstIndex,
    count,
    channels,
    encoding,
    arrivedAtUs,
    values: decodePayload(view, encoding, channels, count),
  }
}

function decodePayload(view: DataView, encoding: FrameEncoding, channels: number, count: number) {
  const bytesPerValue = encoding === 'float32' ? 4 : 2
  const expected = FRAME_HEADER_BYTES + bytesPerValue * channels * count
  if (view.byteLength !== expected) {
    throw new FrameError(
      `${count} samples of ${channels} channels need ${expected} bytes, got ${view.byteLength}`,
    )
  }
  const accScale = view.getFloat32(24, true)
  const gyrScale = view.getFloat32(28, true)
  if (encoding === 'int16' && !(accScale > 0 && (channels === 3 || gyrScale > 0))) {
    throw new FrameError('int16 frames need a positive scale in the header')
  }
  const values = Array.from({ length: channels }, () => new Float64Array(count))
  let offset = FRAME_HEADER_BYTES
  for (let i = 0; i < count; i++) {
    for (let c = 0; c < channels; c++) {
      const value =
        encoding === 'float32'
          ? view.getFloat32(offset, true)
          : view.getInt16(offset, true) * (c < 3 ? accScale : gyrScale)
      if (!Number.isFinite(value)) throw new FrameError(`sample ${i}, channel ${c} is not a finite number`)
      values[c][i] = value
      offset += bytesPerValue
    }
  }
  return values
}
