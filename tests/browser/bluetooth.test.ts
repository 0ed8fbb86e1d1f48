import type { Page } from 'playwright-core'
import { describe, expect, it, onTestFinished } from 'vitest'
import { GENERIC_IMU } from '#signal/packet/generic-layout'
import { answerChooser, launchBluetoothChromium } from '../bluetooth/chromium-with-bluetooth.ts'
import { genericPackets } from '../bluetooth/generic-packets.ts'
import { hasDbusDaemon, pythonWithDbus } from '../bluetooth/needs.mjs'
import { recordedCounts } from '../bluetooth/recorded-counts.ts'
import { openStandInSensor } from '../bluetooth/stand-in-sensor.ts'
import { compareWithSensor } from '../bluetooth/trace-truth.ts'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { madePlan } from '../helpers/made-plan.ts'
import { startServer } from '../helpers/running-server.ts'

const RATE_HZ = 100
const SAMPLES_PER_PACKET = 10
const PATIENCE = { timeout: 60_000, interval: 200 }
const wait = { timeout: 60_000 }

/** A switched-on sensor that stands quietly for two minutes and then plays a recorded session. */
async function standInSensor() {
  const counts = recordedCounts('foam-hands-off.csv', 400 * RATE_HZ, {
    // No multiple of a packet: a start that is off would not fit.
    quietRows: 997,
    quietSamples: 120 * RATE_HZ,
  })
  const sensor = await openStandInSensor({
    service: GENERIC_IMU.service,
    characteristic: GENERIC_IMU.characteristic,
    packets: genericPackets({ counts, samplesPerPacket: SAMPLES_PER_PACKET, rateHz: RATE_HZ }),
    packetsPerS: RATE_HZ / SAMPLES_PER_PACKET,
    batteryPercent: 87,
  })
  onTestFinished(() => sensor.close())
  return { sensor, counts }
}

/** A dog with a plan, on its Before you start screen, where the Bluetooth sensor is chosen as source. */
async function toSensorChoice(page: Page, serverUrl: string) {
  const created = await page.request.post(`${serverUrl}/api/dogs`, { data: { name: 'Juniper' } })
  const { id } = (await created.json()) as { id: string }
  await page.request.put(`${serverUrl}/api/dogs/${id}/plan`, {
    data: madePlan(),
    headers: { 'if-none-match': '*' },
  })
  await page.goto(`${serverUrl}/dogs/${id}/record`)
  await page.getByRole('button', { name: 'Yes, exactly so' }).click()
  await page.getByRole('radio', { name: 'Bluetooth sensor' }).check()
}

async function expectClean(page: Page, name: string) {
  await keepPicture(page, name)
  expect(await fitsWidth(page), name).toBe(true)
  expect(await accessibilityFaults(page), name).toEqual([])
}

describe.skipIf(!hasDbusDaemon() || !pythonWithDbus())('a session with a Bluetooth sensor', () => {
  it.each(WIDTHS)('is stored sample by sample through losses and a lost link, at %i px', async (width) => {
    const { sensor, counts } = await standInSensor()
    const server = await startServer()
    onTestFinished(async () => void (await server.stop()))
    const browser = await launchBluetoothChromium(sensor)
    onTestFinished(() => browser.close())
    const { page, complaints } = await openPage(browser, width)

    // Chosen and connected on the Before you start screen.
    await toSensorChoice(page, server.url)
    await page.getByText('The list stays empty').click()
    await expectClean(page, `bluetooth-choice-${width}`)
    const chooser = await answerChooser(page, 'Harness')
    await page.getByRole('button', { name: 'Connect the sensor' }).click()
    await page.getByText('Harness 12 is sending. Battery 87 %.').waitFor(wait)
    expect(chooser.opened).toBe(1)
    await expectClean(page, `bluetooth-connected-${width}`)

    // Recorded, and seen on the hold view.
    await page.getByRole('button', { name: 'Start', exact: true }).click()
    await page.getByRole('link', { name: 'Go to the hold view now' }).click()
    await page.waitForURL(/\/live\//)
    const sessionId = new URL(page.url()).pathname.split('/').at(-1)!
    const stateWord = page.locator('.word')
    await stateWord.filter({ hasText: 'steady' }).waitFor(wait)

    // The radio loses packets: a gap, told as lost samples.
    await sensor.tell({ do: 'lose', packets: 4 })
    await sensor.tell({ do: 'repeat', packets: 2 })
    await expect.poll(() => page.locator('body').innerText(), PATIENCE).toMatch(/Lost samples\s+40\b/)

    // The sensor goes out of reach: said at once, and it comes back by itself.
    await sensor.tell({ do: 'reach', how: 'refuse' })
    await sensor.tell({ do: 'drop' })
    await page.getByRole('alert').filter({ hasText: 'Harness 12' }).waitFor(wait)
    await stateWord.filter({ hasText: 'no signal' }).waitFor(wait)
    await expectClean(page, `bluetooth-lost-${width}`)
    await sensor.tell({ do: 'reach', how: 'open' })
    const before = sensor.sentPackets().length
    await stateWord.filter({ hasText: 'steady' }).waitFor(wait)
    expect(await page.getByRole('alert').filter({ hasText: 'Harness 12' }).count()).toBe(0)
    await expect.poll(() => sensor.sentPackets().length, PATIENCE).toBeGreaterThan(before + 30)

    // Stored: every sample the sensor got through, once, at its place; nothing else.
    await page.getByRole('button', { name: 'Finish the session' }).click()
    await page.waitForURL(new RegExp(`/sessions/${sessionId}`), wait)
    const stored = await (await page.request.get(`${server.url}/api/sessions/${sessionId}`)).json()
    expect(stored).toMatchObject({ state: 'finished', sensor: 'bluetooth', rateHz: RATE_HZ })
    const csv = await (await page.request.get(`${server.url}/api/sessions/${sessionId}/trace.csv`)).text()
    const truth = compareWithSensor(csv, RATE_HZ, counts, {
      packets: sensor.sentPackets(),
      samplesPerPacket: SAMPLES_PER_PACKET,
    })
    expect(truth.missing).toEqual([])
    expect(new Set(truth.stored).size).toBe(truth.stored.length)
    const span = truth.stored.at(-1)! - truth.firstSample + 1
    // Gone are the 4 lost packets and what was sampled while the link was down, 1 s or more.
    expect(span - truth.stored.length).toBeGreaterThanOrEqual(40 + RATE_HZ)
    expect(complaints).toEqual([])
  })

  it('says what to do when nothing was chosen, and goes on from there', async () => {
    const { sensor } = await standInSensor()
    const server = await startServer()
    onTestFinished(async () => void (await server.stop()))
    const browser = await launchBluetoothChromium(sensor)
    onTestFinished(() => browser.close())
    const { page, complaints } = await openPage(browser, 390)
    await toSensorChoice(page, server.url)
    await answerChooser(page, null)
    await page.getByRole('button', { name: 'Connect the sensor' }).click()
    await page.getByText('No sensor was chosen. Not in the list?').waitFor(wait)
    await expectClean(page, 'bluetooth-not-chosen-390')
    await page.getByRole('button', { name: 'Another sensor' }).click()
    await page.getByRole('radio', { name: 'Bluetooth sensor' }).waitFor(wait)
    expect(complaints).toEqual([])
  })

  it('can be looked at with a layout, without recording', async () => {
    const { sensor } = await standInSensor()
    const server = await startServer()
    onTestFinished(async () => void (await server.stop()))
    const browser = await launchBluetoothChromium(sensor)
    onTestFinished(() => browser.close())
    const { page, complaints } = await openPage(browser, 390)
    await page.goto(`${server.url}/layouts`)
    await page.getByRole('button', { name: `Open ${GENERIC_IMU.name}`, exact: true }).click()
    await answerChooser(page, 'Harness')
    await page.getByRole('button', { name: 'Connect a sensor' }).click()
    await page.getByText('Harness 12 is sending.').waitFor(wait)
    // The stand-in stands still with one axis up.
    await page.getByText('1.00 g').first().waitFor(wait)
    await page.getByRole('button', { name: 'Disconnect' }).click()
    await expect.poll(() => sensor.events.map(({ event }) => event), PATIENCE).toContain('disconnect')
    expect(complaints).toEqual([])
  })
})
