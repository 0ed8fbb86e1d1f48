import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { decodeFrame, encodeFrame, FRAME_HEADER_BYTES, FrameError } from '#protocol/frames'
import type { SampleFrame } from '#protocol/frames'

const ARRIVED_AT_US = Date.parse('2026-11-25T10:00:00Z') * 1000

const twoSamples: SampleFrame = {
  firstIndex: 200,
  count: 2,
  channels: 3,
  encoding: 'float32',
  arrivedAtUs: ARRIVED_AT_US,
  values: [Float64Array.of(0, 0.1), Float64Array.of(0, 0), Float64Array.of(9.80665, 9.80665)],
}

describe('sample frames', () => {
  it('the byte example of the protocol page is what encodeFrame makes', () => {
    const page = readFileSync(new URL('../../server/protocol/README.md', import.meta.url), 'utf8')
    const example = /```\n(53 01[\s\S]*?)```/.exec(page)![1]
    const bytes = Uint8Array.from(example.trim().split(/\s+/), (hex) => Number.parseInt(hex, 16))
    expect(encodeFrame(twoSamples)).toEqual(bytes)
  })

  it('float32 frames come back to float32 precision, headers exactly', () => {
    const value = fc.double({ min: -200, max: 200, noNaN: true })
    const frames = fc
      .record({ count: fc.integer({ min: 1, max: 50 }), channels: fc.constantFrom(3 as const, 6 as const) })
      .chain(({ count, channels }) =>
        fc.record({
          firstIndex: fc.integer({ min: 0, max: 2 ** 45 }),
          values: fc.array(fc.array(value, { minLength: count, maxLength: count }), {
            minLength: channels,
            maxLength: channels,
          }),
          count: fc.constant(count),
          channels: fc.constant(channels),
        }),
      )
    fc.assert(
      fc.property(frames, ({ firstIndex, values, count, channels }) => {
        const decoded = decodeFrame(
          encodeFrame({
            firstIndex,
            count,
            channels,
            encoding: 'float32',
            arrivedAtUs: ARRIVED_AT_US,
            values: values.map((v) => Float64Array.from(v)),
          }),
        )
        expect(decoded).toMatchObject({ firstIndex, count, channels, arrivedAtUs: ARRIVED_AT_US })
        decoded.values.forEach((channel, c) => expect([...channel]).toEqual(values[c].map(Math.fround)))
      }),
      { seed: 1, numRuns: 100 },
    )
  })

  it('int16 frames come back within half a count', () => {
    const scale = { accMs2PerCount: 0.0048, gyrRadSPerCount: 0.001 }
    const decoded = decodeFrame(encodeFrame({ ...twoSamples, encoding: 'int16' }, scale))
    decoded.values.forEach((channel, c) =>
      channel.forEach((v, i) => {
        // The scale itself travels as float32, hence the small margin.
        expect(Math.abs(v - twoSamples.values[c][i])).toBeLessThanOrEqual(0.0024 + 1e-5)
      }),
    )
  })

  it('int16 refuses a value that does not fit and a missing scale', () => {
    const loud = {
      ...twoSamples,
      encoding: 'int16' as const,
      values: [Float64Array.of(400, 0), ...twoSamples.values.slice(1)],
    }
    expect(() => encodeFrame(loud, { accMs2PerCount: 0.01, gyrRadSPerCount: 1 })).toThrow(
      /does not fit 16 bits/,
    )
    expect(() => encodeFrame({ ...twoSamples, encoding: 'int16' })).toThrow(/scale/)
  })

  it('a lost frame is a header alone and may span hours', () => {
    const lost = encodeFrame({ ...twoSamples, encoding: 'lost', count: 1_000_000, values: [] })
    expect(lost.byteLength).toBe(FRAME_HEADER_BYTES)
    expect(decodeFrame(lost)).toMatchObject({ encoding: 'lost', count: 1_000_000, values: [] })
  })

  it.each<[string, (view: DataView) => void, RegExp]>([
    ['another first byte', (v) => v.setUint8(0, 1), /starts with byte 83/],
    ['another format', (v) => v.setUint8(1, 9), /format 9/],
    ['an unknown encoding', (v) => v.setUint8(2, 7), /encoding 7/],
    ['four channels', (v) => v.setUint8(3, 4), /channels/],
    ['no samples', (v) => v.setUint32(4, 0, true), /count/],
    ['a count that does not match the length', (v) => v.setUint32(4, 3, true), /need 68 bytes/],
    ['a fractional index', (v) => v.setFloat64(8, 0.5, true), /firstIndex/],
    ['an endless arrival time', (v) => v.setFloat64(16, Infinity, true), /arrivedAtUs/],
    ['a sample that is no number', (v) => v.setFloat32(32, NaN, true), /sample 0, channel 0/],
  ])('refuses %s', (_, spoil, message) => {
    const bytes = encodeFrame(twoSamples)
    spoil(new DataView(bytes.buffer))
    expect(() => decodeFrame(bytes)).toThrow(FrameError)
    expect(() => decodeFrame(bytes)).toThrow(message)
  })

  it('any bytes give a frame or a FrameError, nothing else', () => {
    const header = Uint8Array.of(0x53, 1)
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 120 }), fc.boolean(), (tail, plausible) => {
        const bytes = plausible ? Uint8Array.of(...header, ...tail) : tail
        try {
          decodeFrame(bytes)
        } catch (error) {
          expect(error).toBeInstanceOf(FrameError)
        }
      }),
      { seed: 2, numRuns: 2000 },
    )
  })
})
