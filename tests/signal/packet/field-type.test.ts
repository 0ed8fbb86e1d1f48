import { describe, expect, it } from 'vitest'
import { bytesOf, FIELD_TYPES, integerRange, readField } from '../../../signal/packet/field-type.ts'
import type { FieldType } from '../../../signal/packet/field-type.ts'
import { floatOf, sfloatOf } from '../../../signal/packet/ieee-11073.ts'
import { fromHex } from './packet-encoder.ts'

const little = (hex: string, type: FieldType) => readField(fromHex(hex), 0, type, true)
const big = (hex: string, type: FieldType) => readField(fromHex(hex), 0, type, false)

describe('integers', () => {
  // Two's complement in closed form: the top bit counts −2^(n−1), all others as without a sign.
  it.each(['i8', 'u8', 'i16', 'u16', 'i24', 'u24', 'i32', 'u32'] as const)(
    '%s is the sum of its bits, the top one negative when it has a sign',
    (type) => {
      const bits = bytesOf(type) * 8
      for (let k = 0; k < bits; k++) {
        for (const isLittle of [true, false]) {
          const bytes = new Uint8Array(bytesOf(type))
          const place = k >> 3
          bytes[isLittle ? place : bytes.length - 1 - place] = 1 << (k & 7)
          const expected = type.startsWith('i') && k === bits - 1 ? -(2 ** k) : 2 ** k
          expect(readField(new DataView(bytes.buffer), 0, type, isLittle)).toBe(expected)
        }
      }
      expect(little('ff'.repeat(bytesOf(type)), type)).toBe(type.startsWith('i') ? -1 : 2 ** bits - 1)
    },
  )

  it('know their ends', () => {
    expect(integerRange('i24')).toEqual([-8388608, 8388607])
    expect(integerRange('u16')).toEqual([0, 65535])
    for (const type of ['f32', 'f64', 'sfloat-11073', 'float-11073'] as const) {
      expect(integerRange(type)).toBeNull()
    }
  })

  it('24 bits read from both ends and from the middle of a packet', () => {
    expect(little('01 02 03', 'u24')).toBe(0x030201)
    expect(big('01 02 03', 'u24')).toBe(0x010203)
    expect(little('00 00 80', 'i24')).toBe(-8388608)
    expect(readField(fromHex('aa bb fe ff ff cc'), 2, 'i24', true)).toBe(-2)
  })
})

describe('IEEE 754', () => {
  it('reads single and double precision', () => {
    // 6.5 = 1.101b × 2²: sign 0, exponent 127 + 2, fraction 101…; OPC 10000-6, figure 3, shows −6.5 as C0D00000.
    expect(big('c0 d0 00 00', 'f32')).toBe(-6.5)
    expect(little('00 00 d0 c0', 'f32')).toBe(-6.5)
    expect(big('40 1a 00 00 00 00 00 00', 'f64')).toBe(6.5)
  })
})

describe('IEEE 11073-20601', () => {
  // Published conversions of FLOAT-Type: 36.4 °C, 34.79 and 36.97 (a question with the standard's table quoted:
  // stackoverflow.com/questions/60841331).
  it.each([
    ['ff 00 01 6c', 36.4],
    ['fe 00 0d 97', 34.79],
    ['fe 00 0e 71', 36.97],
    ['00 00 00 72', 114],
    ['02 ff ff fd', -300],
  ])('FLOAT %s is %d, the nearest double', (hex, value) => {
    expect(big(hex, 'float-11073')).toBe(value)
    expect(little(hex.split(' ').reverse().join(''), 'float-11073')).toBe(value)
  })

  // From memory, and by the definition: exponent in the upper four bits, mantissa in the lower twelve.
  it.each([
    ['00 72', 114],
    ['f0 72', 11.4],
    ['e3 da', 9.86],
    ['07 fd', 2045],
    ['08 03', -2045],
    ['7f ff', -1e7],
    ['8f ff', -1e-8],
  ])('SFLOAT %s is %d, the nearest double', (hex, value) => {
    expect(big(hex, 'sfloat-11073')).toBe(value)
  })

  // The mantissas of the special values as the standard's table has them, exponent 0: NaN, NRes, +INFINITY,
  // −INFINITY, reserved (quoted in github.com/mrozycki/healthpi/issues/6).
  it('has five values that are no numbers, and their neighbours are', () => {
    for (const bits of [0x07ff, 0x0800, 0x07fe, 0x0802, 0x0801]) expect(sfloatOf(bits)).toBeNaN()
    for (const bits of [0x7fffff, 0x800000, 0x7ffffe, 0x800002, 0x800001]) expect(floatOf(bits)).toBeNaN()
    expect([0x07fd, 0x0803].map(sfloatOf)).toEqual([2045, -2045])
    expect([0x7ffffd, 0x800003].map(floatOf)).toEqual([8388605, -8388605])
    expect([0x17ff, 0xf800].map(sfloatOf)).toEqual([20470, -204.8])
  })

  it('is finite for every other pattern of 16 bits', () => {
    let numbers = 0
    for (let bits = 0; bits <= 0xffff; bits++) if (Number.isFinite(sfloatOf(bits))) numbers++
    expect(numbers).toBe(65536 - 5)
  })
})

it('every type has a length', () => {
  expect(FIELD_TYPES.map(bytesOf)).toEqual([1, 1, 2, 2, 3, 3, 4, 4, 4, 8, 2, 4])
})
