import { describe, expect, it } from 'vitest'
import { PacketDecoder } from '../../../signal/packet/decode.ts'
import { GENERIC_IMU, GENERIC_IMU_GYRO } from '../../../signal/packet/generic-layout.ts'
import type { Channel, PacketLayout } from '../../../signal/packet/layout.ts'
import { PRECISE_ACCELERATION_3D } from '../../../signal/packet/precise-acceleration-3d.ts'
import { resolutionOf, scaleOf } from '../../../signal/packet/units.ts'
import { encodePacket } from './packet-encoder.ts'

const G = 9.80665

function withChannels(
  layout: PacketLayout,
  change: (channel: Channel, i: number) => Partial<Channel>,
): PacketLayout {
  return { ...layout, channels: layout.channels.map((channel, i) => ({ ...channel, ...change(channel, i) })) }
}

describe('scaleOf', () => {
  it('is what a count is worth in SI, 0 for a gyroscope that is not there', () => {
    expect(scaleOf(GENERIC_IMU)).toEqual({ accMs2PerCount: G / 4096, gyrRadSPerCount: 0 })
    expect(scaleOf(GENERIC_IMU_GYRO)).toEqual({
      accMs2PerCount: G / 4096,
      gyrRadSPerCount: Math.PI / 180 / 64,
    })
  })

  it('times whole numbers gives the decoded values exactly, over all 65535 readings and turned round too', () => {
    for (const layout of [
      GENERIC_IMU_GYRO,
      { ...GENERIC_IMU_GYRO, sign: 'gravity' as const },
      withChannels(GENERIC_IMU_GYRO, ({ scale }, i) => ({ scale: i % 2 ? scale : -scale })),
    ]) {
      const { accMs2PerCount, gyrRadSPerCount } = scaleOf(layout)!
      const decoder = new PacketDecoder(layout)
      for (let first = -32767; first <= 32767; first += 30) {
        const raw = layout.channels.map(() =>
          Array.from({ length: 30 }, (_, i) => Math.min(32767, first + i)),
        )
        const packet = decoder.decode(encodePacket(layout, { raw }))
        if (packet.kind === 'fault') throw new Error(packet.message)
        packet.values.forEach((channel, c) => {
          const step = c < 3 ? accMs2PerCount : gyrRadSPerCount
          for (let i = 0; i < 30; i++) {
            const counts = Math.round(channel[i] / step)
            if (Math.abs(counts) > 32767 || channel[i] !== counts * step)
              throw new Error(`${channel[i]} is not exact`)
          }
        })
      }
    }
  })

  it('is null where counts are no 16-bit integers of one size, or do not begin at 0', () => {
    expect(scaleOf(withChannels(GENERIC_IMU, () => ({ bias: 0.5 })))).toBeNull()
    expect(scaleOf(withChannels(GENERIC_IMU, (_, i) => (i === 2 ? { scale: 0.001 } : {})))).toBeNull()
    for (const type of ['u16', 'i24', 'i32', 'f32', 'sfloat-11073'] as const) {
      expect(scaleOf(withChannels(GENERIC_IMU, () => ({ type, invalid: undefined }))), type).toBeNull()
    }
    expect(scaleOf(withChannels(GENERIC_IMU, () => ({ type: 'i8', invalid: undefined })))).not.toBeNull()
  })

  it('is null where a channel that is turned round may read −32768, which as +32768 would not fit', () => {
    const unmarked = withChannels(GENERIC_IMU, () => ({ invalid: undefined }))
    expect(scaleOf(unmarked)).not.toBeNull()
    expect(scaleOf({ ...unmarked, sign: 'gravity' })).toBeNull()
    expect(scaleOf({ ...GENERIC_IMU, sign: 'gravity' })).not.toBeNull()
  })
})

describe('resolutionOf', () => {
  it('is as stated, else the step of integers, else unknown', () => {
    expect(resolutionOf({ ...GENERIC_IMU, resolutionMs2: 0.05 })).toBe(0.05)
    expect(resolutionOf(PRECISE_ACCELERATION_3D)).toBeCloseTo(0.00980665, 15)
    expect(resolutionOf(withChannels(GENERIC_IMU, () => ({ type: 'f32' })))).toBeUndefined()
  })
})
