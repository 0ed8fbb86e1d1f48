import { afterEach, describe, expect, test, vi } from 'vitest'
import { GENERIC_IMU } from '#signal/packet/generic-layout'
import { choice } from '../../dashboard/sources/bluetooth/choice.ts'
import { deviceRequest, linkTarget } from '../../dashboard/sources/bluetooth/link-target.ts'
import { openTap } from '../../dashboard/sources/bluetooth/tap.ts'
import { FakeBluetooth, FakeSensor } from './fakes/fake-sensor.ts'
import { FakeTime, settled } from './fakes/fake-time.ts'

const BATTERY = '0000180f-0000-1000-8000-00805f9b34fb'
const DEVICE_INFORMATION = '0000180a-0000-1000-8000-00805f9b34fb'

afterEach(() => void vi.unstubAllGlobals())

function browserWith(bluetooth: unknown, isSecureContext = true) {
  vi.stubGlobal('navigator', { bluetooth })
  vi.stubGlobal('isSecureContext', isSecureContext)
  window.isSecureContext = isSecureContext
}

describe('the choice of a Bluetooth sensor', () => {
  test('is there in a browser with Web Bluetooth', () => {
    browserWith(new FakeBluetooth())
    expect(choice.unavailable()).toBeNull()
  })

  test('says which browsers lack it, and offers the phone or a file', () => {
    browserWith(undefined)
    const words = choice.unavailable()!
    for (const part of ['Safari', 'Firefox', 'iPhone', 'phone in the harness', 'file']) {
      expect(words).toContain(part)
    }
  })

  test('says that the page is not secure, and by which address it is', () => {
    browserWith(undefined, false)
    expect(choice.unavailable()).toContain('https')
    expect(choice.unavailable()).toContain('phone in the harness')
  })
})

describe('what the browser is asked for', () => {
  test('is the service of the layout, with battery and device information beside it', () => {
    expect(deviceRequest(GENERIC_IMU, false)).toEqual({
      filters: [{ services: [GENERIC_IMU.service] }],
      optionalServices: [GENERIC_IMU.service, BATTERY, DEVICE_INFORMATION],
    })
  })

  test('is the name too when the layout knows how it begins: such a sensor may announce no service', () => {
    const { filters } = deviceRequest({ ...GENERIC_IMU, match: { namePrefix: 'Harness' } }, false)
    expect(filters).toEqual([{ services: [GENERIC_IMU.service] }, { namePrefix: 'Harness' }])
  })

  test('is every device on demand, the service still allowed', () => {
    expect(deviceRequest(GENERIC_IMU, true)).toMatchObject({
      acceptAllDevices: true,
      optionalServices: expect.arrayContaining([GENERIC_IMU.service]),
    })
  })

  test('has the writes of the layout as bytes', () => {
    const { start, stop } = linkTarget({
      ...GENERIC_IMU,
      start: [{ characteristic: 'c', bytesHex: '01ff0a' }],
    })
    expect(start).toEqual([{ characteristic: 'c', bytes: Uint8Array.of(1, 255, 10) }])
    expect(stop).toEqual([])
  })
})

describe('a tap on the bytes of a sensor', () => {
  function tapping() {
    const bluetooth = new FakeBluetooth()
    const sensor = new FakeSensor()
    const opened = openTap(GENERIC_IMU, {
      parts: { bluetooth, timers: new FakeTime(), random: Math.random },
    })
    return { bluetooth, sensor, opened }
  }

  test('opens with the first packet and hands out bytes until told otherwise', async () => {
    const { bluetooth, sensor, opened } = tapping()
    bluetooth.choose(sensor)
    await settled()
    const stream = sensor.newestOf(GENERIC_IMU.characteristic)
    stream.notify(1)
    const tap = await opened
    expect(tap.words).toBe('Harness 12 is sending.')
    const heard: number[] = []
    const end = tap.subscribe((bytes) => heard.push(bytes.getUint8(0)))
    stream.notify(2)
    end()
    stream.notify(3)
    expect(heard).toEqual([2])
  })

  test('tells when the link is lost, and hangs up when closed', async () => {
    const { bluetooth, sensor, opened } = tapping()
    bluetooth.choose(sensor)
    await settled()
    sensor.newestOf(GENERIC_IMU.characteristic).notify(1)
    const tap = await opened
    const words: string[] = []
    tap.watch((said) => words.push(said))
    sensor.drop()
    expect(words).toEqual(['The link to Harness 12 is lost. Trying again …'])
    tap.close()
    await settled()
    expect(sensor.listeners).toEqual([])
    expect(sensor.gatt.connected).toBe(false)
  })

  test('does not open when no sensor was chosen, and says so', async () => {
    const { bluetooth, opened } = tapping()
    bluetooth.refuse('NotFoundError')
    await expect(opened).rejects.toThrow(
      'No sensor was chosen. Not in the list? Bring it close and check that it is switched on. ' +
        'Then connect again and pick it',
    )
  })
})
