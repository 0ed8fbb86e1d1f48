import { readFile } from 'node:fs/promises'
import type { Page } from 'playwright-core'
import { describe, expect, it, onTestFinished } from 'vitest'
import { GENERIC_IMU } from '#signal/packet/generic-layout'
import { answerChooser, launchBluetoothChromium } from '../bluetooth/chromium-with-bluetooth.ts'
import { hasDbusDaemon, pythonWithDbus } from '../bluetooth/needs.mjs'
import { openStandInSensor } from '../bluetooth/stand-in-sensor.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { hexOf } from '../../dashboard/lib/hex.ts'
import { encodePacket } from '../signal/packet/packet-encoder.ts'

const PATIENCE = { timeout: 60_000, interval: 200 }
const on = browserAndServer()

async function opened(page: Page) {
  await page.goto(`${on.server.url}/layouts`)
  await page.getByRole('heading', { level: 1, name: 'Packet layouts' }).waitFor()
}

/** The README's example of three samples. */
const SHORT_PACKET = '2c 01 08 00 f0 ff 04 10 0a 00 f1 ff 02 10 07 00 f2 ff ff 0f'

describe.each(WIDTHS)('packet layouts at %i px', (width) => {
  it('are two clicks away, fit, and are clean in light and dark', async () => {
    const { page, complaints } = await openPage(on.browser, width)
    await page.goto(on.server.url)
    await page.getByRole('link', { name: 'Settings' }).click()
    await page.getByRole('link', { name: 'Packet layouts' }).click()
    await page.getByRole('heading', { level: 1, name: 'Packet layouts' }).waitFor()
    await page
      .getByRole('button', { name: 'Duplicate Generic IMU layout v1: acceleration', exact: true })
      .click()
    await page.getByRole('heading', { level: 2, name: /\(copy\)/ }).waitFor()
    const schema = await page.getByRole('link', { name: 'the JSON Schema' }).getAttribute('href')
    const served = await fetch(new URL(schema!, on.server.url))
    expect(((await served.json()) as { title: string }).title).toMatch(/Packet layout/)
    for (const scheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme: scheme })
      await keepPicture(page, `layouts-${width}-${scheme}`)
      expect(await fitsWidth(page)).toBe(true)
      expect(await accessibilityFaults(page)).toEqual([])
    }
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('a pasted packet is decoded, and what is wrong with it is said', async () => {
    const { page, complaints } = await openPage(on.browser, width)
    await opened(page)
    await page
      .getByRole('button', { name: 'Open Generic IMU layout v1: acceleration, short packets' })
      .click()
    const hex = page.getByLabel('Bytes of one packet, in hex')
    await hex.fill(SHORT_PACKET)
    await page.getByText('20 bytes, 3 samples, counter 300.').waitFor()
    const samples = page.getByRole('region', { name: 'The pasted packet, samples, table' })
    expect(await samples.getByRole('row').nth(1).innerText()).toMatch(/1\s+0\.019\s+−0\.038\s+9\.816/)
    await page.getByText('Byte by byte').click()
    await page.getByRole('cell', { name: 'sample 2, ay' }).waitFor()
    await keepPicture(page, `layouts-tester-${width}`)
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])
    await hex.fill(`${SHORT_PACKET} 00`)
    await page.getByText('This packet cannot be read: 19 bytes of samples').waitFor()
    await hex.fill('2c zz')
    await page.getByText('is not hex').waitFor()
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('a field is told what is wrong as it is typed, saving waits, and a change raises the version', async () => {
    const { page, complaints } = await openPage(on.browser, width)
    await opened(page)
    await page
      .getByRole('button', { name: 'Duplicate Generic IMU layout v1: acceleration', exact: true })
      .click()
    const rate = page.getByLabel('Samples a second')
    const save = page.getByRole('button', { name: 'Save', exact: true })
    expect(await save.isDisabled()).toBe(true)
    await rate.fill('')
    await page.getByText('One thing is not right yet').waitFor()
    expect(await rate.getAttribute('aria-invalid')).toBe('true')
    expect(await save.isDisabled()).toBe(true)
    await keepPicture(page, `layouts-problem-${width}`)
    expect(await accessibilityFaults(page)).toEqual([])
    await rate.fill('50')
    await page.getByLabel('Name', { exact: true }).fill('Our own sensor')
    await page.getByText('Not saved yet.').waitFor()
    await save.click()
    await page.getByText('Saved as version 2.').waitFor()
    await page.reload()
    await page.getByText(/acceleration, 50 samples a second, with a counter\.\s+Version 2/).waitFor()
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('an exported file comes back the same after it was deleted here', async () => {
    const { page, complaints } = await openPage(on.browser, width)
    await opened(page)
    await page.getByRole('button', { name: /^Duplicate .*gyroscope/ }).click()
    const download = page.waitForEvent('download')
    await page.getByRole('button', { name: /^Export .*\(copy\)/ }).click()
    const path = await (await download).path()
    const text = await readFile(path, 'utf8')
    expect(JSON.parse(text)).toMatchObject({ id: 'generic-imu-acc-gyro-copy', version: 1 })
    await page.getByRole('button', { name: /^Delete / }).click()
    await page.getByRole('button', { name: 'Delete for good' }).click()
    await page.getByText('None yet.').waitFor()
    await page.setInputFiles('input[type=file]', path)
    await page.getByText('was added.').waitFor()
    const kept = await page.evaluate(() => localStorage.getItem('swaybook.packet-layouts'))
    expect(JSON.parse(kept!)).toEqual([JSON.parse(text)])
    await page.setInputFiles('input[type=file]', path)
    await page.getByText('was there already.').waitFor()
    await page.setInputFiles('input[type=file]', {
      name: 'broken.json',
      mimeType: 'application/json',
      buffer: Buffer.from(text.replace('"g"', '"stone"')),
    })
    await page
      .getByRole('alert')
      .getByText(/broken.json: This layout cannot be used: accUnit is "stone"/)
      .waitFor()
    expect(complaints).toEqual([])
    await page.context().close()
  })
})

describe.skipIf(!hasDbusDaemon() || !pythonWithDbus())('looking at a sensor', () => {
  /** Packets of a sensor that lies with z up, and shows gravity instead of what holds against it. */
  const packets = Array.from({ length: 3000 }, (_, k) => {
    const raw = [0, 0, -4096].map((level, c) =>
      Array.from({ length: 10 }, (_, i) => level + ((k + 3 * i + c) % 5) - 2),
    )
    return hexOf(
      encodePacket(GENERIC_IMU, { counter: k * 10, deviceTime: k * 100_000, flags: 1, raw, filler: 0 }),
    ).replaceAll(' ', '')
  })

  it.each(WIDTHS)(
    'shows its packets, finds its sign, and holds still when asked, at %i px',
    async (width) => {
      const { service, characteristic } = GENERIC_IMU
      const sensor = await openStandInSensor({ service, characteristic, packets, packetsPerS: 10 })
      onTestFinished(() => sensor.close())
      const browser = await launchBluetoothChromium(sensor)
      onTestFinished(() => browser.close())
      const { page, complaints } = await openPage(browser, width)
      // Chromium gives Bluetooth to secure pages; loopback counts as one.
      await opened(page)
      await answerChooser(page, 'Harness')
      await page
        .getByRole('button', { name: 'Duplicate Generic IMU layout v1: acceleration', exact: true })
        .click()
      await page.getByRole('button', { name: 'Connect a sensor' }).click()
      await page.getByText('this layout takes z to point down').waitFor({ timeout: 60_000 })
      await page.getByText('The sensor says that its battery is low.').waitFor()
      await page.getByText(/^\d+, \d+\.\d a second$/).waitFor({ timeout: 60_000 })
      await page.getByRole('button', { name: 'Is that right?' }).click()
      await page.getByRole('button', { name: 'z points up' }).click()
      await page.getByText('The layout now turns it').waitFor()
      expect(await page.getByLabel('At rest').inputValue()).toBe('gravity')
      await page.getByText('this layout takes z to point up').waitFor({ timeout: 60_000 })
      await page.getByRole('button', { name: 'Hold the picture' }).click()
      const hex = page.getByLabel('The newest packet in hex')
      const held = await hex.innerText()
      await keepPicture(page, `layouts-live-${width}`)
      expect(await fitsWidth(page)).toBe(true)
      expect(await accessibilityFaults(page)).toEqual([])
      expect(await hex.innerText()).toBe(held)
      await page.getByRole('button', { name: 'Hold the picture' }).click()
      await expect.poll(() => hex.innerText(), PATIENCE).not.toBe(held)
      await page.getByRole('button', { name: 'Disconnect' }).click()
      await expect.poll(() => sensor.events.some(({ event }) => event === 'disconnect'), PATIENCE).toBe(true)
      expect(complaints).toEqual([])
    },
  )
})
