import { readFileSync } from 'node:fs'
import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import { parseTrace } from '#signal/trace/parse'
import type { SessionSummary } from '#protocol/resources'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { confirmSetUp } from '../helpers/before-you-start.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { LYING, MovedPhone, STANDING } from './moved-phone.ts'

const use = browserAndServer()

/** The Before you start screen of a new dog, with the set-up confirmed and a source chosen. */
async function openSetup(source: string, width: number) {
  const opened = await openPage(use.browser, width)
  const { page } = opened
  const created = await page.request.post(`${use.server.url}/api/dogs`, { data: { name: 'Juniper' } })
  const { id } = (await created.json()) as { id: string }
  await page.goto(`${use.server.url}/dogs/${id}/record`)
  await confirmSetUp(page)
  await page.getByRole('radio', { name: source }).check()
  return opened
}

/** The console without what it says of a dog that has no plan. */
const faults = (complaints: readonly string[]) =>
  complaints.filter((text) => !text.includes('404 (Not Found)'))

const start = (page: Page) => page.getByRole('button', { name: 'Start', exact: true }).click()

describe('a phone asked for on another screen', () => {
  it.each(WIDTHS)(
    'opens the link of the code, and the screen follows when it records, at %i px',
    async (width) => {
      const { page, complaints } = await openSetup('Phone in the harness', width)
      await page.getByRole('button', { name: 'Show a link for the phone' }).click()
      await page.getByRole('img', { name: /QR code/ }).waitFor()
      await keepPicture(page, `phone-setup-${width}`)
      expect(await fitsWidth(page)).toBe(true)
      expect(await accessibilityFaults(page)).toEqual([])
      const link = await page.locator('.address code').innerText()

      const phone = await openPage(use.browser, 390)
      await phone.page.context().grantPermissions(['accelerometer', 'gyroscope'])
      const moved = await MovedPhone.of(phone.page, LYING)
      await phone.page.goto(link)
      await phone.page.getByRole('button', { name: 'Allow motion data' }).click()
      await phone.page.getByRole('button', { name: 'It lies flat: measure' }).click()
      await phone.page.getByLabel('Another way, or I do not know').check({ timeout: 30_000 })
      await phone.page.getByRole('button', { name: 'Next: sound' }).click()
      await phone.page.getByRole('button', { name: 'Go on without sound' }).click()
      await phone.page.getByRole('button', { name: 'Start', exact: true }).click()
      moved.motion = STANDING
      await page.waitForURL(/\/live\//, { timeout: 60_000 })
      await page
        .locator('.word')
        .filter({ hasText: /steady|moving/ })
        .waitFor({ timeout: 60_000 })
      moved.stop()
      expect(faults(complaints)).toEqual([])
      expect(phone.complaints).toEqual([])
      await phone.page.context().close()
      await page.context().close()
    },
  )

  it('records with this device itself when it has motion sensors', async () => {
    const { page, complaints } = await openSetup('Phone in the harness', 390)
    await page.context().grantPermissions(['accelerometer', 'gyroscope'])
    const moved = await MovedPhone.of(page, LYING)
    await page.getByRole('button', { name: 'Use this device itself' }).click()
    await page.getByRole('button', { name: 'Allow motion data' }).click()
    await page.getByRole('button', { name: 'It lies flat: measure' }).click()
    await page.getByLabel('On the back: screen up, top of the phone to the head').check({ timeout: 30_000 })
    await page.getByRole('button', { name: 'Use this device' }).click()
    await start(page)
    await page.getByRole('heading', { name: /Quiet stand/ }).waitFor({ timeout: 30_000 })
    moved.stop()
    expect(faults(complaints)).toEqual([])
    await page.context().close()
  })

  it('says that a device without motion sensors has none', async () => {
    const { page } = await openSetup('Phone in the harness', 390)
    await page.getByRole('button', { name: 'Use this device itself' }).click()
    await page.getByRole('button', { name: 'Allow motion data' }).click()
    const flat = page.getByRole('button', { name: 'It lies flat: measure' })
    // A browser may refuse at the permission already; either way it is said.
    const refusal = page.getByRole('alert')
    await flat.or(refusal).first().waitFor({ timeout: 30_000 })
    if (await flat.isVisible()) await flat.click()
    await expect
      .poll(() => refusal.innerText(), { timeout: 30_000 })
      .toMatch(/no motion data|not to give motion data/)
    await page.context().close()
  })
})

describe('a trace file replayed', () => {
  it.each(WIDTHS)('is stored as it is in the file, marks included, at %i px', async (width) => {
    const { page, complaints } = await openSetup('Replay of a trace file', width)
    const text = readFileSync('sample-traces/tremor.csv', 'utf8')
    // The first 12 s: they hold the beginning of the quiet stand.
    const lines = text.split('\n').slice(0, 1 + 12 * 200)
    const buffer = Buffer.from(lines.join('\n'))
    await page.locator('input[type=file]').setInputFiles({ name: 'tremor.csv', mimeType: 'text/csv', buffer })
    await page.getByRole('button', { name: 'Play this file' }).waitFor({ timeout: 30_000 })
    await page.getByText('12.0 s, 200 samples a second').waitFor()
    await keepPicture(page, `replay-setup-${width}`)
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])
    await page.getByRole('button', { name: 'Play this file' }).click()
    await page.getByText('tremor.csv is being played').waitFor()
    // Watched for a while first: the recording still begins with the first sample of the file.
    await page.waitForTimeout(1500)
    await start(page)
    await page.getByRole('link', { name: 'Go to the hold view now' }).click({ timeout: 30_000 })
    await page.waitForURL(/\/live\//)
    const session = new URL(page.url()).pathname.split('/').at(-1)!
    const get = async (path: string) => page.request.get(`${use.server.url}/api/sessions/${session}${path}`)
    const samples = async () => (await (await get('/trace.csv')).text()).split('\n').length
    await expect.poll(samples, { timeout: 60_000 }).toBeGreaterThan(12 * 200)
    await page.getByRole('button', { name: 'Finish the session' }).click()
    await page.waitForURL(new RegExp(`/sessions/${session}`), { timeout: 60_000 })

    expect((await (await get('')).json()) as SessionSummary).toMatchObject({
      state: 'finished',
      sensor: 'replay',
      rateHz: 200,
    })
    const sent = parseTrace(lines.join('\n')).trace
    const stored = parseTrace(await (await get('/trace.csv')).text()).trace
    expect(stored.t.length).toBe(sent.t.length)
    for (const axis of ['x', 'y', 'z'] as const) {
      // Samples travel as float32: half a unit in the last place of 10 m/s² is 5e-7.
      const worst = stored.acc[axis].reduce(
        (most, v, i) => Math.max(most, Math.abs(v - sent.acc[axis][i])),
        0,
      )
      expect(worst).toBeLessThan(1e-6)
    }
    const marksOf = (trace: typeof sent) => trace.marks.map(({ kind, atS }) => [kind, Math.round(atS * 200)])
    expect(sent.marks.length).toBeGreaterThan(1)
    expect(marksOf(stored)).toEqual(marksOf(sent))
    expect(faults(complaints)).toEqual([])
    await page.context().close()
  })

  it('says what is wrong with a file, where, and what to do', async () => {
    const { page } = await openSetup('Replay of a trace file', 390)
    await page.locator('input[type=file]').setInputFiles('sample-traces/bad/text-in-a-cell.csv')
    const alert = page.getByRole('alert')
    await alert.waitFor({ timeout: 30_000 })
    expect(await alert.innerText()).toMatch(/line \d+, column/i)
    await keepPicture(page, 'replay-refused-390')
    expect(await accessibilityFaults(page)).toEqual([])
    // The unit nobody wrote down is asked for, and then the file plays.
    await page.locator('input[type=file]').setInputFiles('sample-traces/bad/unknown-unit.csv')
    await page.getByLabel('Unit of the acceleration').waitFor({ timeout: 30_000 })
    await page.context().close()
  })
})
