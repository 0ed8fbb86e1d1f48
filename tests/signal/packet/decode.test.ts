import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { layoutProblems } from '../../../signal/packet/check-layout.ts'
import { PacketDecoder } from '../../../signal/packet/decode.ts'
import type { DecodedPacket } from '../../../signal/packet/decode.ts'
import { bytesOf } from '../../../signal/packet/field-type.ts'
import { GENERIC_IMU, GENERIC_IMU_SHORT } from '../../../signal/packet/generic-layout.ts'
import type { PacketLayout } from '../../../signal/packet/layout.ts'
import { anyLayout, anyRaw } from './arbitrary-layout.ts'
import { encodePacket, fromHex } from './packet-encoder.ts'

const RUNS = { seed: 20261, numRuns: 400 }
const G = 9.80665

/** Layout, raw numbers for every channel, and header values. */
const anyPacket = anyLayout.chain((layout) => {
  const { samples, header = {}, channels } = layout
  const counts =
    typeof samples.count === 'number' ? fc.constant(samples.count) : fc.integer({ min: 1, max: 6 })
  return counts.chain((count) =>
    fc.record({
      layout: fc.constant(layout),
      raw: fc.tuple(
        ...channels.map(({ type }) => fc.array(anyRaw(type), { minLength: count, maxLength: count })),
      ),
      counter: header.counter ? anyRaw(header.counter.type) : fc.constant(0),
      deviceTime: header.deviceTime ? anyRaw(header.deviceTime.type) : fc.constant(0),
      flags: header.flags ? anyRaw(header.flags.type) : fc.constant(0),
      filler: fc.integer({ min: 0, max: 255 }),
    }),
  )
})

function decoded(layout: PacketLayout, bytes: DataView): DecodedPacket {
  const packet = new PacketDecoder(layout).decode(bytes)
  if (packet.kind === 'fault') throw new Error(packet.message)
  return packet
}

/** Where a channel of the layout comes out. */
function place(channel: PacketLayout['channels'][number]): number {
  return (channel.quantity === 'acceleration' ? 0 : 3) + 'xyz'.indexOf(channel.axis)
}

describe('PacketDecoder', () => {
  it('gives back what another program encoded, for any layout and any numbers', () => {
    fc.assert(
      fc.property(anyPacket, ({ layout, raw, ...contents }) => {
        expect(layoutProblems(layout)).toEqual([])
        const packet = decoded(layout, encodePacket(layout, { ...contents, raw }))
        const { header = {} } = layout
        expect(packet.counter).toBe(header.counter ? contents.counter : null)
        expect(packet.deviceTime ?? 0).toBeCloseTo(header.deviceTime ? contents.deviceTime : 0, 12)
        expect(packet.flags).toBe(header.flags ? contents.flags : null)
        expect(packet.count).toBe(raw[0].length)
        const unit = { 'm/s2': 1, g: G, mg: G / 1000 }[layout.accUnit] * (layout.sign === 'gravity' ? -1 : 1)
        const turn = layout.gyrUnit === 'deg/s' ? Math.PI / 180 : 1
        layout.channels.forEach((channel, c) => {
          const si = channel.quantity === 'acceleration' ? unit : turn
          raw[c].forEach((value, i) => {
            if (packet.lost.includes(i)) return
            const scaled = value * channel.scale
            const bias = channel.bias ?? 0
            const got = packet.values[place(channel)][i]
            // Rounding only: the decoder multiplies unit and scale first.
            const tolerance = 1e-14 * (Math.abs(scaled) + Math.abs(bias)) * Math.abs(si) + Number.MIN_VALUE
            expect(Math.abs(got - (scaled + bias) * si)).toBeLessThanOrEqual(tolerance)
          })
        })
        // Only readings that overflow in SI may be lost here.
        expect(packet.lost).toEqual([])
      }),
      RUNS,
    )
  })

  it('gives raw numbers exactly when scale and unit are 1', () => {
    fc.assert(
      fc.property(anyPacket, ({ layout, raw, ...contents }) => {
        const plain: PacketLayout = {
          ...layout,
          accUnit: 'm/s2',
          ...(layout.gyrUnit ? { gyrUnit: 'rad/s' as const } : {}),
          sign: 'specific-force',
          channels: layout.channels.map((channel) => ({ ...channel, scale: 1, bias: 0 })),
        }
        const { values } = decoded(plain, encodePacket(plain, { ...contents, raw }))
        plain.channels.forEach((channel, c) =>
          raw[c].forEach((value, i) => expect(values[place(channel)][i] === value).toBe(true)),
        )
      }),
      RUNS,
    )
  })

  it('answers any bytes with finite samples or a fault, and never throws', () => {
    let withSamples = 0
    let withFault = 0
    const anyBytes = fc.uint8Array({ maxLength: 200, size: 'max' })
    fc.assert(
      fc.property(anyLayout, anyBytes, fc.nat(5), fc.boolean(), (layout, noise, drawn, isShaped) => {
        // Noise of any length, or in the shape of the layout: then only the readings are noise.
        const { samples } = layout
        const count = typeof samples.count === 'number' ? samples.count : drawn
        const raw = layout.channels.map(() => Array<number>(count).fill(0))
        const bytes = isShaped && count > 0 ? new Uint8Array(encodePacket(layout, { raw }).buffer) : noise
        if (isShaped && count > 0)
          bytes.set(noise.subarray(0, Math.max(0, bytes.length - samples.offset)), samples.offset)
        const view = new DataView(bytes.buffer, 0, bytes.length)
        const packet = new PacketDecoder(layout).decode(view)
        if (packet.kind === 'fault') {
          withFault++
          expect(packet.message).toMatch(/\w/)
          return
        }
        withSamples++
        expect(packet.count).toBeGreaterThan(0)
        expect(packet.values.length).toBe(layout.channels.length)
        for (const channel of packet.values) {
          expect(channel.length).toBe(packet.count)
          expect(channel.every(Number.isFinite)).toBe(true)
        }
        expect(packet.deviceTime === null || Number.isFinite(packet.deviceTime)).toBe(true)
        for (const i of packet.lost) expect(packet.values.every((channel) => channel[i] === 0)).toBe(true)
      }),
      { ...RUNS, numRuns: 2000 },
    )
    // Both answers must have been tried often.
    expect(Math.min(withSamples, withFault)).toBeGreaterThan(300)
  })

  it('loses a sample that is marked as no reading, and keeps its place', () => {
    const raw = [
      [1, -32768, 3, 4],
      [1, 2, 3, 4],
      [1, 2, 3, -32768],
    ]
    const packet = decoded(GENERIC_IMU, encodePacket(GENERIC_IMU, { raw }))
    expect(packet.lost).toEqual([1, 3])
    expect([...packet.values[1]]).toEqual([G / 4096, 0, (3 * G) / 4096, 0])
  })

  it('loses what IEEE 754 and IEEE 11073 call no number, and what overflows in SI', () => {
    const layout: PacketLayout = {
      ...GENERIC_IMU_SHORT,
      header: {},
      samples: { offset: 0, strideBytes: 14, count: 'fill' },
      channels: [
        { quantity: 'acceleration', axis: 'x', offset: 0, type: 'f64', scale: 1 },
        { quantity: 'acceleration', axis: 'y', offset: 8, type: 'float-11073', scale: 1 },
        { quantity: 'acceleration', axis: 'z', offset: 12, type: 'sfloat-11073', scale: 1 },
      ],
    }
    const good = '0000000000000000 00000000 0000'
    const notANumber = '000000000000f87f 00000000 0000'
    const nres = '0000000000000000 00008000 0000'
    const infinite = '0000000000000000 00000000 fe07'
    // The largest double in g is more than any double in m/s².
    const overflow = 'ffffffffffffef7f 00000000 0000'
    const packet = decoded(layout, fromHex(good + notANumber + good + nres + infinite + overflow))
    expect(packet.lost).toEqual([1, 3, 4, 5])
  })

  it('turns gravity round and converts units', () => {
    const layout = (change: Partial<PacketLayout>): PacketLayout => ({
      ...GENERIC_IMU_SHORT,
      channels: GENERIC_IMU_SHORT.channels.map(({ invalid: _, ...channel }) => ({ ...channel, scale: 1 })),
      ...change,
    })
    const one = (change: Partial<PacketLayout>) =>
      decoded(layout(change), fromHex('0000 0100 0000 e803')).values.map(([value]) => value)
    expect(one({ accUnit: 'm/s2' })).toEqual([1, 0, 1000])
    expect(one({ accUnit: 'mg' })[2]).toBeCloseTo(9.80665, 12)
    expect(one({ accUnit: 'g', sign: 'gravity' })[0]).toBe(-9.80665)
  })

  it.each([
    ['too-short', GENERIC_IMU, '1300 0100'],
    ['other-layout', GENERIC_IMU, '1600 0100 00000000 00000000 000000000000'],
    ['cut-off', GENERIC_IMU, '1300 0a00 00000000 00000000 000000000000 0000'],
    ['empty', GENERIC_IMU, '1300 0000 00000000 00000000'],
    ['empty', GENERIC_IMU_SHORT, '0000'],
    ['ragged', GENERIC_IMU_SHORT, '0000 000000000000 0000'],
    [
      'counter-range',
      {
        ...GENERIC_IMU_SHORT,
        header: { counter: { offset: 0, type: 'u16', counts: 'samples', modulo: 1000 } },
      },
      'e803 000000000000',
    ],
  ] satisfies [string, PacketLayout, string][])('says %s for such a packet', (code, layout, hex) => {
    const packet = new PacketDecoder(layout).decode(fromHex(hex))
    expect(packet).toMatchObject({ kind: 'fault', code })
  })

  it('reads every cut of a packet without looking beyond it', () => {
    const raw = Array.from({ length: 3 }, () => [1, 2, 3])
    const whole = encodePacket(GENERIC_IMU, { raw })
    for (let length = 0; length < whole.byteLength; length++) {
      const cut = new PacketDecoder(GENERIC_IMU).decode(new DataView(whole.buffer, 0, length))
      expect(cut.kind).toBe('fault')
    }
    expect(bytesOf('i16') * 9 + 12).toBe(whole.byteLength)
  })
})
