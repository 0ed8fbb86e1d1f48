import { bytesOf, COUNTING_TYPES, FIELD_TYPES, TIME_TYPES } from '#signal/packet/field-type'
import type { FieldType } from '#signal/packet/field-type'

/** Choices of the layout form, in words. */

function typeWords(type: FieldType): string {
  const bytes = bytesOf(type) === 1 ? '1 byte' : `${bytesOf(type)} bytes`
  if (type.endsWith('11073')) return `${type === 'sfloat-11073' ? 'SFLOAT' : 'FLOAT'}, IEEE 11073, ${bytes}`
  if (type.startsWith('f')) return `${type}: floating point, ${bytes}`
  return `${type}: whole, ${type.startsWith('i') ? 'with sign' : 'no sign'}, ${bytes}`
}

const options = <T extends FieldType>(types: readonly T[]) =>
  types.map((value) => ({ value, words: typeWords(value) }))

export const FIELD_OPTIONS = options(FIELD_TYPES)
export const COUNTING_OPTIONS = options(COUNTING_TYPES)
export const TIME_OPTIONS = options(TIME_TYPES)

export const PACKET_ORDER_OPTIONS = [
  { value: 'little', words: 'Little-endian: least significant byte first' },
  { value: 'big', words: 'Big-endian: most significant byte first' },
] as const
export const ORDER_OPTIONS = [
  { value: '', words: 'As the packet' },
  { value: 'little', words: 'Little-endian' },
  { value: 'big', words: 'Big-endian' },
] as const
export const FIRST_OR_LAST = [
  { value: 'first', words: 'first sample of the packet' },
  { value: 'last', words: 'last sample of the packet' },
] as const
export const ACC_UNIT_OPTIONS = [
  { value: 'g', words: 'g (1 at rest)' },
  { value: 'mg', words: 'mg (1000 at rest)' },
  { value: 'm/s2', words: 'm/s² (9.81 at rest)' },
] as const
export const GYR_UNIT_OPTIONS = [
  { value: 'deg/s', words: 'degrees per second' },
  { value: 'rad/s', words: 'radians per second' },
] as const
export const SIGN_OPTIONS = [
  { value: 'specific-force', words: 'The axis that points up reads +1 g' },
  { value: 'gravity', words: 'The axis that points up reads −1 g' },
] as const
