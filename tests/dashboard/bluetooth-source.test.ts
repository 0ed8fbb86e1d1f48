import { describe, expect, test } from 'vitest'
import { GENERIC_IMU } from '#signal/packet/generic-layout'
import type { PacketLayout } from '#signal/packet/layout'
import { PRECISE_ACCELERATION_3D } from '#signal/packet/precise-acceleration-3d'
import { BluetoothSource } from '../../dashboard/sources/bluetooth/bluetooth-source.ts'
import type { SourceInfo, SourcePacket, SourceState } from '../../dashboard/sources/source.ts'
import { genericPackets, MS2_PER_COUNT } from '../bluetooth/generic-packets.ts'
import { FakeBluetooth, FakeSensor } from './fakes/fake-sensor.ts'
import { FakeTime, settled } from './fakes/fake-time.ts'

/** Bluetooth SIG, Assigned Numbers. */
const BATTERY_LEVEL = '00002a19-0000-1000-8000-00805f9b34fb'
const MODEL = '00002a24-0000-1000-8000-00805f9b34fb'

/** Sample k has the counts 3k, 3k + 1, 3k + 2: no two are alike. */
const COUNTS = Int16Array.from({ length: 3000 }, (_, i) => i)
const PACKETS = genericPackets({ counts: COUNTS, samplesPerPacket: 10, rateHz: 100 })
const bytesOf = (hex: string) => [...Buffer.from(hex, 'hex')]

async function started(layout: PacketLayout = GENERIC_IMU, prepare: (sensor: FakeSensor) => void = () => {}) {
  const time = new FakeTime()
  const bluetooth = new FakeBluetooth()
  const sensor = new FakeSensor()
  prepare(sensor)
  const heard = { infos: [] as SourceInfo[], packets: [] as SourcePacket[], states: [] as SourceState[] }
  const source = new BluetoothSource(
    { layout, everyDevice: false },
    { bluetooth, timers: time, random: () => 0.5 },
  )
  source.start({
    onInfo: (info) => heard.infos.push(info),
    onPacket: (packet) => heard.packets.push(packet),
    onState: (state) => heard.states.push(state),
    onMark: () => {},
    onEnd: () => {},
  })
  bluetooth.choose(sensor)
  await settled()
  const send = (packet: number) => sensor.newestOf(layout.characteristic).notify(...bytesOf(PACKETS[packet]))
  const garbage = (times: number) => {
    for (let i = 0; i < times; i++) sensor.newestOf(layout.characteristic).notify(1, 2, 3)
  }
  /** Packets [from, to), one every 100 ms. */
  const stream = async (from: number, to: number) => {
    for (let k = from; k < to; k++) {
      await time.advance(100)
      send(k)
    }
  }
  return { time, bluetooth, sensor, source, heard, send, garbage, stream }
}

describe('the Bluetooth source', () => {
  test('says what the sensor is before its first packet', async () => {
    const { heard, send } = await started()
    expect(heard.infos).toEqual([])
    send(0)
    expect(heard.infos[0]).toMatchObject({
      nominalRateHz: 100,
      channels: 3,
      description: { name: 'Harness 12', layout: GENERIC_IMU },
    })
    expect(heard.infos[0].scale!.accMs2PerCount).toBeCloseTo(MS2_PER_COUNT, 12)
    expect(heard.infos[0].resolutionMs2).toBeCloseTo(MS2_PER_COUNT, 12)
    await expect.poll(() => heard.infos.at(-1)!.description!.layoutHash).toMatch(/^[0-9a-f]{64}$/)
  })

  test('places the samples by the counter, from 0 at the first packet, stamped on arrival', async () => {
    const { heard, stream } = await started()
    await stream(7, 9)
    expect(heard.packets.map(({ firstIndex }) => firstIndex)).toEqual([0, 10])
    expect(heard.packets.map(({ arrivedAtMs }) => arrivedAtMs)).toEqual([100, 200])
    const [x, y, z] = heard.packets[0].values
    expect([x[0], y[0], z[0]].map((value) => Math.round(value / MS2_PER_COUNT))).toEqual([210, 211, 212])
    // Generic layout: device time is of the first sample, 0.7 s for sample 70; the last is 9 samples later.
    expect(heard.packets[0].deviceTimeS).toBeCloseTo(0.79, 6)
  })

  test('jumps over lost packets and drops repeated ones', async () => {
    const { heard, stream } = await started()
    await stream(0, 2)
    await stream(1, 2)
    await stream(5, 6)
    expect(heard.packets.map(({ firstIndex }) => firstIndex)).toEqual([0, 10, 50])
  })

  test('keeps the place of the samples over a lost link', async () => {
    const { heard, time, sensor, stream } = await started()
    await stream(0, 30)
    sensor.drop()
    await time.advance(0)
    await stream(30, 31)
    expect(heard.packets.at(-1)).toMatchObject({ firstIndex: 300 })
    expect(heard.packets.at(-1)!.reckoned).toBeUndefined()
    expect(heard.states.map(({ phase }) => phase)).toContain('reconnecting')
    expect(heard.states.at(-1)!.phase).toBe('streaming')
  })

  test('goes on by the clock when the sensor began anew over a lost link', async () => {
    const { heard, time, sensor, stream } = await started()
    await stream(0, 60)
    sensor.drop()
    await time.advance(900)
    await stream(0, 2)
    // Packets ended at 6.0 s with sample 599; the next came at 7.0 s, so it ends with sample 699.
    expect(heard.packets.at(-2)).toMatchObject({ firstIndex: 690, reckoned: true })
    expect(heard.packets.at(-1)).toMatchObject({ firstIndex: 700 })
  })

  test('reads battery and model once the packets come, and tells them', async () => {
    const { heard, send } = await started(GENERIC_IMU, (sensor) => {
      sensor.values.set(BATTERY_LEVEL, [87])
      sensor.values.set(MODEL, [...Buffer.from('Mark 2\0')])
    })
    send(0)
    await settled()
    expect(heard.infos.at(-1)!.description).toMatchObject({ name: 'Harness 12, Mark 2', batteryPercent: 87 })
    expect(heard.states.at(-1)!.words).toBe('Harness 12 is sending. Battery 87 %.')
  })

  test('a battery that never answers costs nothing', async () => {
    const { heard, time, sensor, send } = await started(GENERIC_IMU, (sensor) =>
      sensor.script('read', 'hang', 'hang', 'hang'),
    )
    for (let k = 0; k < 100; k++) {
      send(k)
      await time.advance(100)
    }
    expect(heard.packets).toHaveLength(100)
    expect(sensor.count('disconnect')).toBe(0)
    expect(heard.infos.at(-1)!.description!.batteryPercent).toBeUndefined()
  })

  test('an answer of an earlier link is not taken for the sensor there is now', async () => {
    const { heard, time, sensor, stream } = await started(GENERIC_IMU, (sensor) => {
      sensor.values.set(BATTERY_LEVEL, [87])
      sensor.script('read', 'hang')
    })
    await stream(0, 2)
    sensor.drop()
    await time.advance(0)
    sensor.values.set(BATTERY_LEVEL, [80])
    await stream(2, 4)
    sensor.release('read')
    await settled()
    expect(heard.infos.at(-1)!.description!.batteryPercent).toBe(80)
  })

  test('says that the battery is low when the packets say so', async () => {
    const { heard, sensor } = await started()
    const low = bytesOf(PACKETS[0])
    low[1] = 0b1
    sensor.newestOf(GENERIC_IMU.characteristic).notify(...low)
    expect(heard.states.at(-1)!.words).toBe('Harness 12 is sending. Its battery is low.')
  })

  test('counts single unreadable packets in words and streams on', async () => {
    const { heard, send, garbage } = await started()
    send(0)
    garbage(2)
    send(1)
    expect(heard.states.at(-1)).toEqual({
      phase: 'streaming',
      words: 'Harness 12 is sending. 2 packets could not be read.',
    })
    expect(heard.packets).toHaveLength(2)
  })

  test('fails in words when no packet fits the layout, and hangs up', async () => {
    const { heard, sensor, garbage } = await started()
    garbage(10)
    const { phase, words } = heard.states.at(-1)!
    expect(phase).toBe('failed')
    expect(words).toContain('do not fit the layout “Generic IMU layout v1: acceleration”')
    expect(words).toContain('the packet has 3 bytes')
    expect(words).toContain('Choose the layout of this sensor')
    expect(heard.packets).toEqual([])
    await settled()
    expect(sensor.gatt.connected).toBe(false)
  })

  test('a sensor that becomes unreadable midway is stalled, not failed, and may recover', async () => {
    const { heard, send, garbage } = await started()
    send(0)
    garbage(10)
    expect(heard.states.at(-1)!.phase).toBe('stalled')
    send(1)
    expect(heard.states.at(-1)!.phase).toBe('streaming')
  })

  test('says that losses go unnoticed when the layout has no counter', async () => {
    const { heard, sensor } = await started(PRECISE_ACCELERATION_3D)
    sensor.newestOf(PRECISE_ACCELERATION_3D.characteristic).notify(0, 0, 0, 0, 232, 3)
    expect(heard.states.at(-1)!.words).toContain('lost samples go unnoticed')
    // 0x2C1E: 1000 counts of 0.001 g.
    expect(heard.packets[0].values[2][0]).toBeCloseTo(9.80665, 9)
  })

  test('asks for a tap when no sensor was chosen, and reconnect opens the list again', async () => {
    const time = new FakeTime()
    const bluetooth = new FakeBluetooth()
    const states: SourceState[] = []
    const source = new BluetoothSource(
      { layout: GENERIC_IMU, everyDevice: false },
      { bluetooth, timers: time, random: Math.random },
    )
    source.start({
      onInfo: () => {},
      onPacket: () => {},
      onState: (state) => states.push(state),
      onMark: () => {},
      onEnd: () => {},
    })
    bluetooth.refuse('NotFoundError')
    await settled()
    expect(states.at(-1)).toEqual({
      phase: 'needs-tap',
      words:
        'No sensor was chosen. Not in the list? Bring it close and check that it is switched on. ' +
        'Then tap Reconnect and pick it, or choose to have every Bluetooth device listed.',
    })
    source.reconnect()
    expect(bluetooth.requests).toHaveLength(2)
    expect(states.at(-1)!.phase).toBe('connecting')
  })

  test('is silent after stop', async () => {
    const { heard, sensor, source, send, time } = await started()
    send(0)
    source.stop()
    const counts = [heard.infos.length, heard.packets.length, heard.states.length]
    send(1)
    sensor.drop()
    await time.advance(60_000)
    expect([heard.infos.length, heard.packets.length, heard.states.length]).toEqual(counts)
    expect(sensor.count('connect')).toBe(1)
  })
})
