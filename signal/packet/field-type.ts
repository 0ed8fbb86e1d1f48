import { floatOf, sfloatOf } from './ieee-11073.ts'

/** Number types of a packet: integers in two's complement, IEEE 754, and the two of IEEE 11073-20601. */
export const FIELD_TYPES = [
  'i8',
  'u8',
  'i16',
  'u16',
  'i24',
  'u24',
  'i32',
  'u32',
  'f32',
  'f64',
  'sfloat-11073',
  'float-11073',
] as const
export type FieldType = (typeof FIELD_TYPES)[number]

/** Types of counters, flags and counts. */
export const COUNTING_TYPES = ['u8', 'u16', 'u24', 'u32'] as const
export type CountingType = (typeof COUNTING_TYPES)[number]

/** Types of a device time. */
export const TIME_TYPES = [...COUNTING_TYPES, 'f32', 'f64'] as const
export type TimeType = (typeof TIME_TYPES)[number]

const BYTES: Readonly<Record<FieldType, number>> = {
  i8: 1,
  u8: 1,
  i16: 2,
  u16: 2,
  i24: 3,
  u24: 3,
  i32: 4,
  u32: 4,
  f32: 4,
  f64: 8,
  'sfloat-11073': 2,
  'float-11073': 4,
}

export function bytesOf(type: FieldType): number {
  return BYTES[type]
}

/** Least and greatest raw value of an integer type; null for floating point. */
export function integerRange(type: FieldType): readonly [number, number] | null {
  const bits = BYTES[type] * 8
  if (type.startsWith('i')) return [-(2 ** (bits - 1)), 2 ** (bits - 1) - 1]
  return type.startsWith('u') ? [0, 2 ** bits - 1] : null
}

/** Where counting begins again: 65536 for u16. */
export function moduloOf(type: CountingType): number {
  return 2 ** (BYTES[type] * 8)
}

/**
 * The number at an offset, as the type reads it: an integer, a double, or NaN or ±Infinity where the
 * type says so (the special values of IEEE 11073 are NaN).
 *
 * @throws {RangeError} when the field does not lie inside the view
 */
export function readField(view: DataView, offset: number, type: FieldType, littleEndian: boolean): number {
  switch (type) {
    case 'i8':
      return view.getInt8(offset)
    case 'u8':
      return view.getUint8(offset)
    case 'i16':
      return view.getInt16(offset, littleEndian)
    case 'u16':
      return view.getUint16(offset, littleEndian)
    case 'i24':
      return (unsigned24(view, offset, littleEndian) << 8) >> 8
    case 'u24':
      return unsigned24(view, offset, littleEndian)
    case 'i32':
      return view.getInt32(offset, littleEndian)
    case 'u32':
      return view.getUint32(offset, littleEndian)
    case 'f32':
      return view.getFloat32(offset, littleEndian)
    case 'f64':
      return view.getFloat64(offset, littleEndian)
    case 'sfloat-11073':
      return sfloatOf(view.getUint16(offset, littleEndian))
    case 'float-11073':
      return floatOf(view.getUint32(offset, littleEndian))
  }
}

function unsigned24(view: DataView, offset: number, littleEndian: boolean): number {
  const middle = view.getUint8(offset + 1) << 8
  const first = view.getUint8(offset)
  const last = view.getUint8(offset + 2)
  return littleEndian ? first | middle | (last << 16) : (first << 16) | middle | last
}
