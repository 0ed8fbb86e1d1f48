import * as fc from 'fast-check'
import {
  bytesOf,
  COUNTING_TYPES,
  FIELD_TYPES,
  integerRange,
  TIME_TYPES,
} from '../../../signal/packet/field-type.ts'
import type { FieldType } from '../../../signal/packet/field-type.ts'
import type { Channel, PacketHeader, PacketLayout } from '../../../signal/packet/layout.ts'

const order = fc.option(fc.constantFrom('little' as const, 'big' as const), { nil: undefined })
const counting = fc.constantFrom(...COUNTING_TYPES)
const refersTo = fc.constantFrom('first' as const, 'last' as const)

/** Places fields one after the other in a drawn order with drawn gaps; returns the offsets and the end. */
function laidOut(types: readonly FieldType[], order: readonly number[], gaps: readonly number[]) {
  const offsets: number[] = []
  let at = 0
  order.forEach((k, i) => {
    at += gaps[i]
    offsets[k] = at
    at += bytesOf(types[k])
  })
  return { offsets, end: at }
}

function shuffled(n: number) {
  return fc.shuffledSubarray([...Array(n).keys()], { minLength: n, maxLength: n })
}

function gaps(n: number) {
  return fc.array(fc.integer({ min: 0, max: 3 }), { minLength: n, maxLength: n })
}

const header: fc.Arbitrary<{ header: PacketHeader; end: number }> = fc
  .record({
    present: fc.array(fc.boolean(), { minLength: 5, maxLength: 5 }),
    types: fc.tuple(counting, counting, fc.constantFrom(...TIME_TYPES), counting, counting),
    orders: fc.array(order, { minLength: 5, maxLength: 5 }),
    places: shuffled(5),
    gaps: gaps(5),
    value: fc.integer({ min: 0, max: 255 }),
    counts: fc.constantFrom('packets' as const, 'samples' as const),
    counterOf: refersTo,
    timeOf: refersTo,
    unitS: fc.constantFrom(1e-6, 1e-3, 1 / 32768),
  })
  .map((drawn) => {
    const { offsets, end } = laidOut(drawn.types, drawn.places, drawn.gaps)
    const at = <T extends FieldType>(k: number, type: T) => ({
      offset: offsets[k],
      type,
      ...(drawn.orders[k] ? { byteOrder: drawn.orders[k] } : {}),
    })
    const [constant, counter, time, flags, count] = drawn.types
    const [hasConstant, hasCounter, hasTime, hasFlags, hasCount] = drawn.present
    return {
      end,
      header: {
        ...(hasConstant ? { constant: { ...at(0, constant), value: drawn.value } } : {}),
        ...(hasCounter
          ? {
              counter: {
                ...at(1, counter),
                counts: drawn.counts,
                ...(drawn.counts === 'samples' ? { refersTo: drawn.counterOf } : {}),
              },
            }
          : {}),
        ...(hasTime ? { deviceTime: { ...at(2, time), unitS: drawn.unitS, refersTo: drawn.timeOf } } : {}),
        ...(hasFlags ? { flags: at(3, flags) } : {}),
        ...(hasCount ? { sampleCount: at(4, count) } : {}),
      },
    }
  })

const block = fc.constantFrom(3, 6).chain((n) =>
  fc
    .record({
      types: fc.array(fc.constantFrom(...FIELD_TYPES), { minLength: n, maxLength: n }),
      orders: fc.array(order, { minLength: n, maxLength: n }),
      places: shuffled(n),
      gaps: gaps(n),
      listed: shuffled(n),
      scales: fc.array(fc.constantFrom(1, -1, 0.001, 0.000244140625, -0.0625), {
        minLength: n,
        maxLength: n,
      }),
      biases: fc.array(fc.constantFrom(undefined, 0, 0.5, -3), { minLength: n, maxLength: n }),
      tail: fc.integer({ min: 0, max: 3 }),
    })
    .map((drawn) => {
      const { offsets, end } = laidOut(drawn.types, drawn.places, drawn.gaps)
      const channels = drawn.listed.map((k): Channel => ({
        quantity: k < 3 ? 'acceleration' : 'angular rate',
        axis: (['x', 'y', 'z'] as const)[k % 3],
        offset: offsets[k],
        type: drawn.types[k],
        scale: drawn.scales[k],
        ...(drawn.biases[k] === undefined ? {} : { bias: drawn.biases[k] }),
        ...(drawn.orders[k] ? { byteOrder: drawn.orders[k] } : {}),
      }))
      return { channels, strideBytes: end + drawn.tail }
    }),
)

/** Sound layouts of every kind. */
export const anyLayout: fc.Arbitrary<PacketLayout> = fc
  .record({
    byteOrder: fc.constantFrom('little' as const, 'big' as const),
    header,
    block,
    count: fc.constantFrom('fill' as const, 'said' as const, 1, 2, 5),
    accUnit: fc.constantFrom('m/s2' as const, 'g' as const, 'mg' as const),
    gyrUnit: fc.constantFrom('rad/s' as const, 'deg/s' as const),
    sign: fc.constantFrom('specific-force' as const, 'gravity' as const),
    gap: fc.integer({ min: 0, max: 2 }),
  })
  .map(
    ({ byteOrder, header: head, block: { channels, strideBytes }, count, accUnit, gyrUnit, sign, gap }) => ({
      format: 1,
      id: 'drawn',
      version: 1,
      name: 'Drawn at random',
      service: '9aa2d487-489c-4459-82e8-4716bac6e8ef',
      characteristic: 'af196dda-af86-4760-be20-e814cff2c2c7',
      byteOrder,
      header: head.header,
      samples: {
        offset: head.end + gap,
        strideBytes,
        count: count === 'said' ? (head.header.sampleCount ? { field: 'sampleCount' } : 'fill') : count,
      },
      channels,
      accUnit,
      ...(channels.length === 6 ? { gyrUnit } : {}),
      nominalRateHz: 100,
      sign,
    }),
  )

/** A raw number a type can hold, and that its decimal form holds exactly for IEEE 11073. */
export function anyRaw(type: FieldType): fc.Arbitrary<number> {
  const range = integerRange(type)
  if (range) return fc.integer({ min: range[0], max: range[1] })
  if (type === 'f32')
    return fc.float({ noNaN: true, noDefaultInfinity: true, min: Math.fround(-1e30), max: Math.fround(1e30) })
  if (type === 'f64') return fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e200, max: 1e200 })
  const largest = type === 'sfloat-11073' ? 2045 : 8388605
  return fc
    .tuple(fc.integer({ min: -largest, max: largest }), fc.integer({ min: -7, max: 0 }))
    .map(([mantissa, exponent]) => mantissa / 10 ** -exponent)
}
