import { describe, expect, it } from 'vitest'
import { GENERIC_IMU } from '../../../signal/packet/generic-layout.ts'
import type { PacketLayout } from '../../../signal/packet/layout.ts'
import { healthWarnings, packetHealth } from '../../../signal/packet/packet-health.ts'
import { seededUniform } from '../../../signal/sway/seeded-uniform.ts'

const G = 9.80665

/** 20 samples at rest with z up and a little noise, times a factor. */
function rest(factor = 1): Float64Array[] {
  const random = seededUniform(7)
  return [0, 0, G].map((level) =>
    Float64Array.from({ length: 20 }, () => factor * (level + 0.02 * (random() - 0.5))),
  )
}

const warned = (values: Float64Array[], layout: PacketLayout = GENERIC_IMU) =>
  healthWarnings(packetHealth(layout, values)).join(' ')

describe('packetHealth', () => {
  it('finds nothing about a sensor that rests and reads 1 g', () => {
    expect(packetHealth(GENERIC_IMU, rest())).toMatchObject({
      saturatedShare: 0,
      allEqual: false,
      still: true,
    })
    expect(warned(rest())).toBe('')
  })

  it('tells a wrong size at rest, and which units were likely mixed up', () => {
    expect(warned(rest(0.9))).toBe('')
    expect(warned(rest(0.7))).toMatch(/reads 0.7 g where 1 g is right. Check the scale/)
    expect(warned(rest(9.80665))).toMatch(/m\/s² taken for g/)
    expect(warned(rest(1 / 9.80665))).toMatch(/reads 0.1 g .* g taken for m\/s²/)
    expect(warned(rest(1000))).toMatch(/mg taken for g/)
  })

  it('says nothing of the size while the sensor moves', () => {
    const moving = rest(0.5)
    for (let i = 0; i < 20; i++) moving[2][i] += 3 * Math.sin(i)
    expect(packetHealth(GENERIC_IMU, moving).still).toBe(false)
    expect(warned(moving)).toBe('')
  })

  it('tells samples that are all the same', () => {
    const frozen = [0, 0, G].map((level) => new Float64Array(20).fill(level))
    expect(warned(frozen)).toMatch(/Every sample is the same/)
    expect(
      packetHealth(
        GENERIC_IMU,
        frozen.map((channel) => channel.slice(0, 3)),
      ).allEqual,
    ).toBe(false)
  })

  it('counts samples at the end of the type, both ends', () => {
    const step = G / 4096
    const values = rest()
    values[0][3] = 32767 * step
    values[1][4] = -32767 * step
    values[2][5] = 32700 * step
    expect(packetHealth(GENERIC_IMU, values).saturatedShare).toBe(2 / 20)
    expect(warned(values)).toMatch(/10 % of the samples stand at the end of the range/)
  })

  it('counts samples at the stated range, turned round and for floating point too', () => {
    const values = rest()
    values[0][3] = 2 * G
    values[1][4] = -2 * G
    for (const sign of ['specific-force', 'gravity'] as const) {
      const layout = { ...GENERIC_IMU, rangeMs2: 2 * G, sign }
      expect(packetHealth(layout, values).saturatedShare).toBe(0.1)
      const float = {
        ...layout,
        channels: layout.channels.map((c) => ({ ...c, type: 'f32' as const, invalid: undefined })),
      }
      expect(packetHealth(float, values).saturatedShare).toBe(0.1)
    }
  })

  it('refuses no samples', () => {
    expect(() => packetHealth(GENERIC_IMU, [new Float64Array(0)])).toThrow(RangeError)
  })
})
