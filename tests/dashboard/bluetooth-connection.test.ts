import { describe, expect, test } from 'vitest'
import { SensorConnection } from '../../dashboard/sources/bluetooth/connection.ts'
import type { ConnectionPhase } from '../../dashboard/sources/bluetooth/connection.ts'
import type { LinkFault } from '../../dashboard/sources/bluetooth/link-fault.ts'
import { FakeBluetooth, FakeSensor, namedError } from './fakes/fake-sensor.ts'
import { FakeTime, settled } from './fakes/fake-time.ts'

const REQUEST = { acceptAllDevices: true }

function connection(writes: { start?: number[]; stop?: number[] } = {}) {
  const time = new FakeTime()
  const bluetooth = new FakeBluetooth()
  const phases: ConnectionPhase[] = []
  const packets: number[] = []
  const seen = { links: 0, fault: null as LinkFault | null }
  const write = (bytes?: number[]) =>
    bytes ? [{ characteristic: 'control', bytes: Uint8Array.from(bytes) }] : []
  const sensors = new SensorConnection(
    { service: 's', characteristic: 'c', start: write(writes.start), stop: write(writes.stop) },
    {
      onPhase: (phase, fault) => {
        if (phases.at(-1) !== phase) phases.push(phase)
        seen.fault = fault
      },
      onLink: () => seen.links++,
      onPacket: (bytes) => packets.push(bytes.getUint8(0)),
    },
    // 0.5 is the middle of the jitter: waits are exactly 0, 1, 2, 4, 8 s.
    { bluetooth, timers: time, random: () => 0.5 },
  )
  return { time, bluetooth, phases, packets, seen, sensors }
}

/** A connection that has streamed one packet. */
async function streaming(writes?: { start?: number[]; stop?: number[] }) {
  const parts = connection(writes)
  const sensor = new FakeSensor()
  parts.sensors.choose(REQUEST)
  parts.bluetooth.choose(sensor)
  await settled()
  sensor.newestOf('c').notify(1)
  expect(parts.sensors.phase).toBe('streaming')
  return { ...parts, sensor }
}

/** Advances in steps with a packet in each, as a sensor that keeps sending. */
async function keepSending(sensor: FakeSensor, time: FakeTime, ms: number) {
  for (let t = 0; t < ms; t += 100) {
    await time.advance(100)
    sensor.newestOf('c').notify(2)
  }
}

describe('the connection to a sensor', () => {
  test('goes from the choice over connecting and discovering to streaming', async () => {
    const { phases, sensor, packets } = await streaming()
    expect(phases).toEqual(['choosing', 'connecting', 'discovering', 'streaming'])
    expect(sensor.calls).toEqual(['connect', 'discover', 'subscribe'])
    expect(packets).toEqual([1])
  })

  test('is streaming only when a packet has come, not when subscribed', async () => {
    const { bluetooth, sensors } = connection()
    sensors.choose(REQUEST)
    bluetooth.choose(new FakeSensor())
    await settled()
    expect(sensors.phase).toBe('discovering')
  })

  test('hands out a copy of the bytes: what the browser does to its own later changes nothing', async () => {
    const time = new FakeTime()
    const bluetooth = new FakeBluetooth()
    const kept: DataView[] = []
    const sensors = new SensorConnection(
      { service: 's', characteristic: 'c', start: [], stop: [] },
      { onPhase: () => {}, onLink: () => {}, onPacket: (bytes) => kept.push(bytes) },
      { bluetooth, timers: time, random: Math.random },
    )
    const sensor = new FakeSensor()
    sensors.choose(REQUEST)
    bluetooth.choose(sensor)
    await settled()
    sensor.newestOf('c').notify(7)
    sensor.newestOf('c').value!.setUint8(0, 99)
    expect(kept[0].getUint8(0)).toBe(7)
  })

  test('gives a hanging connect 15 s, disconnects and starts over', async () => {
    const { time, bluetooth, sensors, seen } = connection()
    const sensor = new FakeSensor()
    sensor.script('connect', 'hang')
    sensors.choose(REQUEST)
    bluetooth.choose(sensor)
    await time.advance(14_999)
    expect(sensor.calls).toEqual(['connect'])
    await time.advance(1)
    expect(sensor.calls).toEqual(['connect', 'disconnect', 'connect', 'discover', 'subscribe'])
    sensor.newestOf('c').notify(1)
    expect(sensors.phase).toBe('streaming')
    expect(seen.fault).toBeNull()
  })

  test('gives a hanging discovery 10 s, disconnects and starts over', async () => {
    const { time, bluetooth, sensors } = connection()
    const sensor = new FakeSensor()
    sensor.script('discover', 'hang')
    sensors.choose(REQUEST)
    bluetooth.choose(sensor)
    await time.advance(9_999)
    expect(sensor.calls).toEqual(['connect', 'discover'])
    await time.advance(1)
    expect(sensor.calls).toEqual(['connect', 'discover', 'disconnect', 'connect', 'discover', 'subscribe'])
  })

  test('gives a hanging subscription 5 s, disconnects and starts over', async () => {
    const { time, bluetooth, sensors, seen } = connection()
    const sensor = new FakeSensor()
    sensor.script('subscribe', 'hang', 'hang')
    sensors.choose(REQUEST)
    bluetooth.choose(sensor)
    await time.advance(5_000)
    expect(sensor.count('disconnect')).toBe(1)
    expect(seen.fault).toMatchObject({ kind: 'subscribe', timedOut: true })
    expect(sensor.count('subscribe')).toBe(2)
  })

  test('drops while discovering: the next attempt begins from connect', async () => {
    const { time, bluetooth, sensors, seen } = connection()
    const sensor = new FakeSensor()
    sensor.script('discover', 'hang')
    sensors.choose(REQUEST)
    bluetooth.choose(sensor)
    await settled()
    sensor.drop()
    expect(seen.fault).toMatchObject({ kind: 'lost' })
    await time.advance(0)
    expect(sensor.count('connect')).toBe(2)
    sensor.newestOf('c').notify(1)
    expect(sensors.phase).toBe('streaming')
  })

  test('is stalled after 1.5 s without a packet and streams on with the next one, same link', async () => {
    const { time, sensor, sensors, seen, phases } = await streaming()
    await time.advance(1_499)
    expect(sensors.phase).toBe('streaming')
    await time.advance(1)
    expect(sensors.phase).toBe('stalled')
    sensor.newestOf('c').notify(2)
    expect(sensors.phase).toBe('streaming')
    expect(seen.links).toBe(1)
    expect(phases.slice(-3)).toEqual(['streaming', 'stalled', 'streaming'])
  })

  test('drops a link that was silent for 4 s and reconnects at once', async () => {
    const { time, sensor, sensors, seen } = await streaming()
    await time.advance(3_999)
    expect(sensor.count('disconnect')).toBe(0)
    await time.advance(1)
    expect(sensor.count('disconnect')).toBe(1)
    expect(seen.fault).toMatchObject({ kind: 'silent' })
    expect(sensor.count('connect')).toBe(2)
    expect(sensors.phase).toBe('reconnecting')
    sensor.newestOf('c').notify(2)
    expect(sensors.phase).toBe('streaming')
    expect(seen.links).toBe(2)
  })

  test('a page that slept gives the packets that waited a moment before it calls the sensor silent', async () => {
    const { time, sensor, sensors } = await streaming()
    await time.sleep(30_000)
    sensor.newestOf('c').notify(2) // handed out right after waking
    await time.advance(1_000)
    expect(sensors.phase).toBe('streaming')
    expect(sensor.count('disconnect')).toBe(0)
  })

  test('a page that slept beside a dead sensor drops it soon after waking', async () => {
    const { time, sensor } = await streaming()
    await time.sleep(30_000)
    await time.advance(250)
    expect(sensor.count('disconnect')).toBe(1)
  })

  test('waits 0, 1, 2, 4, 8, 8 s between attempts, and from 0 s again after a packet', async () => {
    const { time, sensor, sensors } = await streaming()
    const refused = namedError('NetworkError', 'Connection failed')
    sensor.script('connect', ...Array<Error>(6).fill(refused))
    sensor.drop()
    const attemptsAtS: number[] = []
    for (let ms = 0; ms <= 24_000; ms += 100) {
      const before = sensor.count('connect')
      await time.advance(ms === 0 ? 0 : 100)
      if (sensor.count('connect') > before) attemptsAtS.push(ms / 1000)
    }
    expect(attemptsAtS).toEqual([0, 1, 3, 7, 15, 23])
    await time.advance(8_000)
    sensor.newestOf('c').notify(2)
    expect(sensors.phase).toBe('streaming')
    sensor.drop()
    await time.advance(0)
    expect(sensor.count('connect')).toBe(9)
  })

  test('asks for a tap after 20 s without packets and goes on trying behind it', async () => {
    const { time, sensor, sensors } = await streaming()
    sensor.script('connect', 'hang', 'hang') // given up at 15 s and, begun at 16 s, at 31 s
    sensor.drop()
    await time.advance(19_999)
    expect(sensors.phase).toBe('reconnecting')
    await time.advance(1)
    expect(sensors.phase).toBe('needs-tap')
    await time.advance(13_000) // the next attempt is at 33 s
    expect(sensor.count('connect')).toBe(4)
    sensor.newestOf('c').notify(2)
    expect(sensors.phase).toBe('streaming')
  })

  test('asks for a tap too when the sensor connects again and again but sends nothing', async () => {
    const { time, sensor, sensors, seen } = await streaming()
    await time.advance(20_000)
    expect(sensors.phase).toBe('needs-tap')
    expect(seen.fault).toMatchObject({ kind: 'silent' })
    expect(sensor.count('connect')).toBeGreaterThan(2)
  })

  test('the tap gives up what was being tried before it opens the list', async () => {
    const { time, sensor, sensors, bluetooth } = await streaming()
    sensor.script('connect', 'hang', 'hang', 'hang')
    sensor.drop()
    await time.advance(20_000)
    const disconnects = sensor.count('disconnect')
    sensors.choose(REQUEST)
    expect(sensors.phase).toBe('choosing')
    expect(sensor.count('disconnect')).toBe(disconnects + 1)
    await time.advance(60_000)
    expect(sensors.phase).toBe('choosing')
    expect(sensor.count('connect')).toBe(3)
    bluetooth.choose(sensor)
  })

  test('does not open a second list over the first: that would close both', () => {
    const { sensors, bluetooth } = connection()
    sensors.choose(REQUEST)
    sensors.choose(REQUEST)
    expect(bluetooth.requests).toHaveLength(1)
  })

  test('a closed list asks for a tap again', async () => {
    const { sensors, bluetooth, seen } = connection()
    sensors.choose(REQUEST)
    bluetooth.refuse('NotFoundError', 'User cancelled the requestDevice() chooser.')
    await settled()
    expect(sensors.phase).toBe('needs-tap')
    expect(seen.fault).toMatchObject({ kind: 'not-chosen' })
  })

  test('a list that stayed empty because Bluetooth is off says so', async () => {
    const { sensors, bluetooth, seen } = connection()
    bluetooth.available = false
    sensors.choose(REQUEST)
    bluetooth.refuse('NotFoundError', 'Bluetooth adapter not available.')
    await settled()
    expect(seen.fault).toMatchObject({ kind: 'no-adapter' })
  })

  test('a list closed during an outage lets the attempts go on', async () => {
    const { time, sensor, sensors, bluetooth } = await streaming()
    sensor.script('connect', ...Array<'hang'>(2).fill('hang'))
    sensor.drop()
    await time.advance(20_000)
    sensors.choose(REQUEST)
    bluetooth.refuse('NotFoundError')
    await settled()
    expect(sensors.phase).toBe('needs-tap')
    await time.advance(0)
    sensor.newestOf('c').notify(2)
    expect(sensors.phase).toBe('streaming')
  })

  test('a forbidden request says so', async () => {
    const { sensors, bluetooth, seen } = connection()
    sensors.choose(REQUEST)
    bluetooth.refuse('SecurityError', 'requestDevice() called with a blocklisted UUID')
    await settled()
    expect(seen.fault).toMatchObject({ kind: 'not-allowed' })
    expect(seen.fault!.detail).toContain('blocklisted')
  })

  test('a sensor without the service of the layout is not tried again: a person must choose', async () => {
    const { time, sensors, bluetooth, seen } = connection()
    const sensor = new FakeSensor()
    sensor.script('discover', namedError('NotFoundError', 'No Services matching UUID s found in Device.'))
    sensors.choose(REQUEST)
    bluetooth.choose(sensor)
    await time.advance(60_000)
    expect(sensors.phase).toBe('needs-tap')
    expect(seen.fault).toMatchObject({ kind: 'not-there' })
    expect(sensor.count('connect')).toBe(1)
  })

  test('a sensor that streamed before is tried again even when its service is missing once', async () => {
    const { time, sensor, sensors } = await streaming()
    sensor.script('discover', namedError('NotFoundError', 'not resolved yet'))
    sensor.drop()
    await time.advance(1_000)
    sensor.newestOf('c').notify(2)
    expect(sensors.phase).toBe('streaming')
  })

  test('late events of an old link do nothing to the new one', async () => {
    const { time, sensor, sensors, packets } = await streaming()
    const [oldValue] = sensor.newestOf('c').listeners
    const [oldDisconnected] = sensor.listeners
    const old = sensor.newestOf('c')
    sensor.drop()
    await time.advance(0)
    sensor.newestOf('c').notify(2)
    old.value = new DataView(Uint8Array.of(66).buffer)
    oldValue()
    oldDisconnected()
    expect(packets).toEqual([1, 2])
    expect(sensors.phase).toBe('streaming')
    expect(sensor.count('connect')).toBe(2)
  })

  test('a connect that comes back after it was given up does not disturb the attempt in its place', async () => {
    const { time, bluetooth, sensors } = connection()
    const sensor = new FakeSensor()
    sensor.script('connect', 'hang')
    sensors.choose(REQUEST)
    bluetooth.choose(sensor)
    await time.advance(15_000)
    sensor.newestOf('c').notify(1)
    sensor.release('connect')
    await settled()
    expect(sensors.phase).toBe('streaming')
    expect(sensor.count('disconnect')).toBe(1)
    expect(sensor.count('discover')).toBe(1)
  })

  test('a connect that comes back after the source was closed is hung up', async () => {
    const { bluetooth, sensors } = connection()
    const sensor = new FakeSensor()
    sensor.script('connect', 'hang')
    sensors.choose(REQUEST)
    bluetooth.choose(sensor)
    await settled()
    await sensors.close()
    sensor.release('connect')
    await settled()
    expect(sensor.gatt.connected).toBe(false)
    expect(sensor.calls.at(-1)).toBe('disconnect')
  })

  test('a choice that comes after the source was closed does nothing', async () => {
    const { bluetooth, sensors } = connection()
    const sensor = new FakeSensor()
    sensors.choose(REQUEST)
    await sensors.close()
    bluetooth.choose(sensor)
    await settled()
    expect(sensor.calls).toEqual([])
    expect(sensors.phase).toBe('closed')
  })

  test('leaves nothing running when closed', async () => {
    const { time, sensor, sensors } = await streaming()
    await keepSending(sensor, time, 3_000)
    await sensors.close()
    expect(sensor.gatt.connected).toBe(false)
    expect(time.waiting).toBe(0)
    expect(sensor.listeners).toEqual([])
    expect(sensor.characteristics[0].listeners).toEqual([])
  })

  test('writes the bytes that start and stop the stream, after every subscription and before leaving', async () => {
    const { time, sensor, sensors } = await streaming({ start: [1], stop: [0] })
    const written = () => sensor.characteristics.flatMap(({ written }) => written)
    await settled()
    expect(written()).toEqual([[1]])
    sensor.drop()
    await time.advance(0)
    expect(written()).toEqual([[1], [1]])
    sensor.newestOf('c').notify(2)
    await sensors.close()
    expect(written()).toEqual([[1], [1], [0]])
    expect(sensor.calls.at(-1)).toBe('disconnect')
  })

  test('a stop write that hangs does not keep the link', async () => {
    const { time, sensor, sensors } = await streaming({ stop: [0] })
    sensor.script('write', 'hang')
    const closed = sensors.close()
    await time.advance(5_000)
    await closed
    expect(sensor.gatt.connected).toBe(false)
  })

  test('steady packets never stall it', async () => {
    const { time, sensor, phases } = await streaming()
    await keepSending(sensor, time, 30_000)
    expect(phases.at(-1)).toBe('streaming')
    expect(phases).not.toContain('stalled')
  })
})
