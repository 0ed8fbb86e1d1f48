import { describe, expect, test } from 'vitest'
import { GENERIC_IMU, GENERIC_IMU_SHORT } from '#signal/packet/generic-layout'
import type { PacketLayout } from '#signal/packet/layout'
import { PRECISE_ACCELERATION_3D } from '#signal/packet/precise-acceleration-3d'
import { PacketPreview, upwardAxis } from '../../dashboard/lib/packet-preview.ts'
import { encodePacket } from '../signal/packet/packet-encoder.ts'

/** Ten samples of a sensor at rest with a count of noise, z up unless said otherwise. */
function packetAt(k: number, layout: PacketLayout = GENERIC_IMU, level = [0, 0, 4096], flags = 0): DataView {
  const raw = level.map((count, c) => Array.from({ length: 10 }, (_, i) => count + ((k + 3 * i + c) % 5) - 2))
  return encodePacket(layout, { counter: k * 10, deviceTime: k * 100_000, flags, raw })
}

function following(layout: PacketLayout, packets: number, everyMs = 100, over: Partial<PacketLayout> = {}) {
  const preview = new PacketPreview({ ...layout, ...over })
  for (let k = 0; k < packets; k++) preview.take(packetAt(k, layout), k * everyMs)
  return preview
}

describe('PacketPreview', () => {
  test('has nothing before the first packet', () => {
    expect(new PacketPreview(GENERIC_IMU).state()).toBeNull()
  })

  test('tells rate, length of gravity and no loss of a sensor at rest', () => {
    const state = following(GENERIC_IMU, 100).state()!
    expect(state).toMatchObject({ packets: 100, faults: 0, lostSamples: 0, lossUnknown: false, warnings: [] })
    expect(state.rateHz).toBeCloseTo(100, 6)
    expect(state.packetsPerS).toBeCloseTo(10, 6)
    expect(state.recent!.lengthG).toBeCloseTo(1, 2)
    expect(state.recent!.still).toBe(true)
  })

  test('counts lost samples, unreadable packets and a low battery', () => {
    const preview = following(GENERIC_IMU, 20)
    preview.take(packetAt(22, GENERIC_IMU, undefined, 1), 2200)
    preview.take(new DataView(new ArrayBuffer(3)), 2300)
    const state = preview.state()!
    expect(state).toMatchObject({ lostSamples: 20, faults: 1, batteryLow: true, packet: { kind: 'fault' } })
    expect(state.recent).not.toBeNull()
  })

  test('warns of another rate than the layout states, and of gravity of another size', () => {
    const slow = following(GENERIC_IMU, 100, 200).state()!
    expect(slow.warnings.join()).toMatch(/About 50 samples a second come, but the layout says 100/)
    const wrong = following(GENERIC_IMU, 20, 100, { accUnit: 'm/s2' }).state()!
    expect(wrong.warnings.join()).toMatch(/At rest the sensor reads 0.1 g where 1 g is right/)
  })

  test('says that loss is unknown without a counter', () => {
    const preview = new PacketPreview(PRECISE_ACCELERATION_3D)
    preview.take(encodePacket(PRECISE_ACCELERATION_3D, { raw: [[0], [0], [1000]] }), 0)
    expect(preview.state()).toMatchObject({ lossUnknown: true })
  })
})

describe('upwardAxis', () => {
  const of = (level: number[], layout: PacketLayout = GENERIC_IMU_SHORT) => {
    const preview = new PacketPreview(layout)
    for (let k = 0; k < 12; k++) preview.take(packetAt(k, layout, level), k * 100)
    return upwardAxis(preview.state()!.recent!)
  }

  test.each([
    ['z', [0, 0, 4096], 9.81],
    ['x', [-4096, 100, -50], -9.81],
    ['y', [1000, 3900, 0], 9.34],
  ])('is %s for %j', (axis, level, readsMs2) => {
    expect(of(level)).toMatchObject({ axis, readsMs2: expect.closeTo(readsMs2, 1) })
  })

  test('is none between two axes, for no gravity, and while the sensor moves', () => {
    expect(of([2900, 0, 2900])).toBeNull()
    expect(of([0, 0, 1000])).toBeNull()
    expect(upwardAxis({ meanMs2: [0, 0, 9.81], lengthG: 1, still: false })).toBeNull()
  })
})
