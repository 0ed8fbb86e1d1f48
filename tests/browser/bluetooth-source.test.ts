import { createHash } from 'node:crypto'
import type { Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { canonicalJson } from '#signal/packet/canonical-json'
import { GENERIC_IMU } from '#signal/packet/generic-layout'
import { answerChooser, launchBluetoothChromium } from '../bluetooth/chromium-with-bluetooth.ts'
import { genericPackets, MS2_PER_COUNT } from '../bluetooth/generic-packets.ts'
import { hasDbusDaemon, pythonWithDbus } from '../bluetooth/needs.mjs'
import { recordedCounts } from '../bluetooth/recorded-counts.ts'
import type { Heard } from '../bluetooth/sensor-page.ts'
import { serveSensorPage } from '../bluetooth/serve-sensor-page.ts'
import { openStandInSensor } from '../bluetooth/stand-in-sensor.ts'
import type { StandInSensor } from '../bluetooth/stand-in-sensor.ts'
import { openPage } from '../helpers/browser.ts'

const PATIENCE = { timeout: 60_000, interval: 200 }
const served: { page?: Awaited<ReturnType<typeof serveSensorPage>> } = {}

beforeAll(async () => {
  served.page = await serveSensorPage()
})
afterAll(() => served.page?.close())

/** A sensor, a browser on its bus, and the page with the source; `samplesPerPacket` at `packetsPerS`. */
async function connected(samplesPerPacket: number, packetsPerS: number, seconds: number) {
  const rateHz = samplesPerPacket * packetsPerS
  const counts = recordedCounts('foam-hands-off.csv', seconds * rateHz)
  const sensor = await openStandInSensor({
    service: GENERIC_IMU.service,
    characteristic: GENERIC_IMU.characteristic,
    packets: genericPackets({ counts, samplesPerPacket, rateHz }),
    packetsPerS,
    batteryPercent: 87,
  })
  onTestFinished(() => sensor.close())
  const browser = await launchBluetoothChromium(sensor)
  onTestFinished(() => browser.close())
  const { page, complaints } = await openPage(browser, 1280)
  await page.goto(`${served.page!.url}?layout=${GENERIC_IMU.id}`)
  await answerChooser(page, 'Harness')
  await page.locator('#connect').click()
  return { sensor, page, counts, complaints, browser }
}

const heardBy = (page: Page) => page.evaluate(() => (window as unknown as { heard: Heard }).heard)

const phasesOf = ({ states }: Heard) =>
  states.map(({ phase }) => phase).filter((phase, i, all) => phase !== all[i - 1])

/** Every sample heard must be the sensor's at its place: the first packet sent is index 0. */
function expectTruth(heard: Heard, sensor: StandInSensor, counts: Int16Array, samplesPerPacket: number) {
  const first = sensor.sentPackets()[0] * samplesPerPacket
  let lastIndex = -1
  for (const { firstIndex, x } of heard.packets) {
    expect(firstIndex).toBeGreaterThan(lastIndex)
    for (let i = 0; i < x.length; i++) {
      expect(x[i] / MS2_PER_COUNT).toBeCloseTo(counts[3 * (first + firstIndex + i)], 6)
    }
    lastIndex = firstIndex + x.length - 1
  }
}

/** Index of the last sample heard. */
function lastIndexOf({ packets }: Heard): number {
  const last = packets.at(-1)!
  return last.firstIndex + last.x.length - 1
}

const packetsSent = (sensor: StandInSensor, atLeast: number) =>
  expect.poll(() => sensor.sentPackets().length, PATIENCE).toBeGreaterThanOrEqual(atLeast)

const sha256 = (text: string) => createHash('sha256').update(text).digest('hex')

describe.skipIf(!hasDbusDaemon() || !pythonWithDbus())('a Bluetooth sensor in a real browser', () => {
  it.each([40, 100])('hears every one of %i packets a second', async (packetsPerS) => {
    const { sensor, page, counts, complaints } = await connected(1, packetsPerS, 60)
    await expect.poll(() => sensor.sentPackets().length, PATIENCE).toBeGreaterThan(10 * packetsPerS)
    await page.locator('#stop').click()
    await expect.poll(() => sensor.events.some(({ event }) => event === 'disconnect'), PATIENCE).toBe(true)
    const heard = await heardBy(page)
    expectTruth(heard, sensor, counts, 1)
    expect(heard.packets.length).toBe(lastIndexOf(heard) + 1)
    expect(heard.packets.length).toBeGreaterThan(9 * packetsPerS)
    expect(complaints).toEqual([])
  })

  it('tells name, battery, layout and scale of the sensor', async () => {
    const { page } = await connected(10, 10, 60)
    await expect
      .poll(async () => (await heardBy(page)).infos.at(-1)?.description, PATIENCE)
      .toMatchObject({
        name: 'Harness 12, Stand-in, firmware 1.0',
        batteryPercent: 87,
        layoutHash: sha256(canonicalJson(GENERIC_IMU)),
        layout: { id: GENERIC_IMU.id },
      })
    const { infos } = await heardBy(page)
    expect(infos[0]).toMatchObject({ nominalRateHz: 100, channels: 3 })
    expect(infos[0].scale!.accMs2PerCount).toBeCloseTo(MS2_PER_COUNT, 12)
  })

  it('leaves a gap for what the radio lost, and drops what came twice', async () => {
    const { sensor, page, counts } = await connected(5, 20, 60)
    await packetsSent(sensor, 20)
    await sensor.tell({ do: 'lose', packets: 7 })
    await packetsSent(sensor, 40)
    await sensor.tell({ do: 'repeat', packets: 3 })
    await packetsSent(sensor, 60)
    const heard = await heardBy(page)
    expectTruth(heard, sensor, counts, 5)
    const missing = lastIndexOf(heard) + 1 - 5 * heard.packets.length
    expect(missing).toBe(35)
    const sent = sensor.sentPackets()
    expect(sent.length - new Set(sent).size).toBe(3)
  })

  it('says that the link dropped, comes back by itself, and keeps the place of every sample', async () => {
    const { sensor, page, counts } = await connected(5, 20, 120)
    await packetsSent(sensor, 40)
    const sentBefore = sensor.sentPackets().length
    await sensor.tell({ do: 'drop' })
    await packetsSent(sensor, sentBefore + 40)
    const heard = await heardBy(page)
    // A slow machine may be silent long enough to count as stalled in between.
    const phases = phasesOf(heard).filter((phase) => phase !== 'stalled')
    expect(phases).toEqual(expect.arrayContaining(['connecting', 'streaming', 'reconnecting']))
    expect(phases.at(-1)).toBe('streaming')
    expect(heard.states.find(({ phase }) => phase === 'reconnecting')!.words).toBe(
      'The link to Harness 12 is lost. Trying again …',
    )
    expectTruth(heard, sensor, counts, 5)
    expect(heard.packets.every(({ reckoned }) => !reckoned)).toBe(true)
    expect(sensor.events.filter(({ event }) => event === 'connect').length).toBeGreaterThan(1)
  })

  it('goes on by the clock when the sensor began anew', async () => {
    const { sensor, page, counts } = await connected(5, 20, 120)
    await packetsSent(sensor, 60)
    await sensor.tell({ do: 'reboot' })
    const anewFrom = sensor.sentPackets().length
    await packetsSent(sensor, anewFrom + 40)
    const heard = await heardBy(page)
    const anew = heard.packets.findIndex(({ reckoned }) => reckoned)
    expect(heard.packets[anew].firstIndex).toBeGreaterThan(heard.packets[anew - 1].firstIndex + 4)
    // From there on every sample is the rebooted sensor's, at the place the clock gave the first of them.
    const firstPacket = sensor.sentPackets()[anewFrom]
    const shift = heard.packets[anew].firstIndex - 5 * firstPacket
    for (const { firstIndex, x } of heard.packets.slice(anew)) {
      x.forEach((value, i) =>
        expect(value / MS2_PER_COUNT).toBeCloseTo(counts[3 * (firstIndex - shift + i)], 6),
      )
    }
  })

  it('is stalled while the sensor is silent, and drops and reconnects after 4 s', async () => {
    const { sensor, page } = await connected(5, 20, 120)
    await packetsSent(sensor, 20)
    await sensor.tell({ do: 'stall', seconds: 2.5 })
    await expect.poll(async () => phasesOf(await heardBy(page)), PATIENCE).toContain('stalled')
    await expect.poll(async () => phasesOf(await heardBy(page)).at(-1), PATIENCE).toBe('streaming')
    await sensor.tell({ do: 'stall', seconds: 5.5 })
    await expect
      .poll(() => sensor.events.filter(({ event }) => event === 'connect').length, PATIENCE)
      .toBeGreaterThan(1)
    await expect.poll(async () => phasesOf(await heardBy(page)).at(-1), PATIENCE).toBe('streaming')
  })

  it('counts packets it cannot read and streams on', async () => {
    const { sensor, page, counts } = await connected(5, 20, 60)
    await packetsSent(sensor, 20)
    await sensor.tell({ do: 'send', bytes: 'ff00' })
    await sensor.tell({ do: 'send', bytes: '13'.repeat(40) })
    await packetsSent(sensor, 40)
    await expect
      .poll(async () => (await heardBy(page)).states.at(-1)!.words, PATIENCE)
      .toContain('2 packets could not be read.')
    expectTruth(await heardBy(page), sensor, counts, 5)
  })

  it('asks for a tap when the sensor stays away, and the tap brings it back', async () => {
    const { sensor, page } = await connected(5, 20, 300)
    await packetsSent(sensor, 20)
    await sensor.tell({ do: 'reach', how: 'hang' })
    await sensor.tell({ do: 'drop' })
    await expect.poll(async () => phasesOf(await heardBy(page)).at(-1), PATIENCE).toBe('needs-tap')
    expect((await heardBy(page)).states.at(-1)!.words).toContain('Then tap Reconnect')
    await sensor.tell({ do: 'reach', how: 'open' })
    await page.locator('#reconnect').click()
    await expect.poll(async () => phasesOf(await heardBy(page)).at(-1), PATIENCE).toBe('streaming')
  })
})
