import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import type { ServerToViewer } from '#protocol/messages'
import type { Pairing, SessionSummary } from '#protocol/resources'
import type { Report } from '#signal/report-types'
import { accessibilityFaults, fitsWidth, keepPicture, openPage } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { LiveClient } from '../helpers/live-client.ts'
import { LYING, MIRRORED, MovedPhone, STANDING } from './moved-phone.ts'
import type { Motion } from './moved-phone.ts'

const use = browserAndServer()

const at = (path: string) => `${use.server.url}${path}`

async function answered<T>(response: { ok(): boolean; text(): Promise<string> }): Promise<T> {
  const text = await response.text()
  expect(response.ok(), text).toBe(true)
  return JSON.parse(text) as T
}

async function pairedPhone(lying: Motion) {
  const { page, complaints } = await openPage(use.browser, 390)
  await page.context().grantPermissions(['accelerometer', 'gyroscope'])
  const dog = await answered<{ id: string }>(
    await page.request.post(at('/api/dogs'), { data: { name: 'Juniper' } }),
  )
  const data = {
    dogId: dog.id,
    sensor: 'phone',
    setUp: { exercise: 'stand on foam pad', surface: 'foam pad' },
  }
  const { id } = await answered<{ id: string }>(await page.request.post(at('/api/sessions'), { data }))
  const { secret } = await answered<Pairing>(await page.request.post(at(`/api/sessions/${id}/pairing`)))
  const moved = await MovedPhone.of(page, lying)
  return { page, complaints, session: id, secret, moved }
}

/** The page as it is: fits, has no fault axe-core finds, and is kept as a picture. */
async function looked(page: Page, name: string) {
  await keepPicture(page, name)
  expect(await fitsWidth(page)).toBe(true)
  expect(await accessibilityFaults(page)).toEqual([])
}

/** From the opened link to a recording. */
async function startRecording(page: Page, mount: string, look: (name: string) => Promise<void>) {
  await look('phone-allow')
  await page.getByRole('button', { name: 'Allow motion data' }).click()
  await look('phone-flat')
  await page.getByRole('button', { name: 'It lies flat: measure' }).click()
  await page.getByRole('heading', { name: 'Put it into the harness' }).waitFor({ timeout: 30_000 })
  await page.getByLabel(mount).check()
  await look('phone-harness')
  await page.getByRole('button', { name: 'Next: sound' }).click()
  await page.getByRole('button', { name: 'Play the notes' }).click()
  await look('phone-sound')
  await page.getByRole('button', { name: 'I heard them' }).click()
  await look('phone-start')
  await page.getByRole('button', { name: 'Start', exact: true }).click()
  await page.getByRole('heading', { name: 'Recording' }).waitFor({ timeout: 30_000 })
}

async function pressToStop(page: Page) {
  const box = (await page.getByRole('button', { name: /to stop/ }).boundingBox())!
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2)
  await page.mouse.down()
  await page.getByRole('heading', { name: 'Saved' }).waitFor({ timeout: 60_000 })
  await page.mouse.up()
}

async function stored(page: Page, session: string) {
  const get = async <T>(path: string) =>
    answered<T>(await page.request.get(at(`/api/sessions/${session}${path}`)))
  const csv = await (await page.request.get(at(`/api/sessions/${session}/trace.csv`))).text()
  const rows = csv
    .split('\n')
    .filter((line) => /^-?\d/.test(line))
    .map((line) => line.split(',').map(Number))
  return { summary: await get<SessionSummary>(''), report: await get<Report>('/report'), rows }
}

const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length

describe('a phone in the harness', () => {
  it('opens the link, lies flat, records for a remote hold view, and stops at a press of 2 s', async () => {
    const { page, complaints, session, secret, moved } = await pairedPhone(LYING)
    const therapist = await openPage(use.browser, 1280)
    await page.goto(at(`/phone#${secret}`))
    await page.getByRole('heading', { name: 'Phone in the harness of Juniper' }).waitFor()
    // The secret is out of the address before anything else happens.
    expect(page.url()).toBe(at('/phone'))
    await startRecording(page, 'On the back: screen up, top of the phone to the head', (name) =>
      looked(page, name),
    )

    moved.motion = STANDING
    await therapist.page.goto(at(`/live/${session}`))
    await therapist.page
      .locator('.word')
      .filter({ hasText: /steady|moving/ })
      .waitFor({ timeout: 60_000 })
    await keepPicture(therapist.page, 'phone-hold-view-1280')
    await looked(page, 'phone-recording')
    // Shown to nobody but the remote screen: the phone says that it records, not what.
    expect(await page.getByRole('dialog').innerText()).not.toMatch(/m\/s²|mg|sway/i)

    // A tap, as in a pocket, stops nothing; neither does Escape.
    await page.getByRole('button', { name: /to stop/ }).click()
    await page.keyboard.press('Escape')
    const viewer = await new LiveClient<ServerToViewer>(
      `${use.server.url.replace('http', 'ws')}/api/live/watch?session=${session}`,
    ).opened()
    await viewer.next('window', ({ window }) => window.endS > 20)
    await page.getByRole('heading', { name: 'Recording' }).waitFor()
    await pressToStop(page)
    await looked(page, 'phone-saved')

    const { summary, report, rows } = await stored(page, session)
    expect(summary).toMatchObject({
      state: 'finished',
      sensor: 'phone',
      mount: 'y=cranial,z=dorsal',
    })
    expect(report.quality.resolutionMs2).toBe(0.1)
    // Chromium polls at 60 Hz; a busy machine may miss events, which the grid shows as losses.
    expect(report.trace.rateHz).toBe(52)
    expect(summary.rateHz).toBeGreaterThan(55)
    expect(summary.rateHz).toBeLessThan(62)
    expect(summary.durationS).toBeGreaterThan(20)
    expect(rows.length).toBeGreaterThan(0.5 * summary.durationS! * summary.rateHz!)
    expect(rows.length).toBeLessThanOrEqual(summary.durationS! * summary.rateHz! + 2)
    // Every value lies on the browser's lattice: nothing was interpolated on the way.
    for (const row of rows) {
      for (const value of row.slice(1, 4))
        expect(Math.abs(value * 10 - Math.round(value * 10))).toBeLessThan(1e-4)
    }
    expect(mean(rows.map((row) => row[3]))).toBeGreaterThan(9)
    // Rotation about y was 0.3 rad/s at its peak, 0.21 RMS; within 15 % for the seconds before it moved.
    const rms = (column: number) => Math.sqrt(mean(rows.map((row) => row[column] ** 2)))
    expect(rms(5)).toBeGreaterThan(0.18)
    expect(rms(5)).toBeLessThan(0.22)
    expect(Math.max(rms(4), rms(6))).toBeLessThan(0.01)
    expect(report.mount).toMatchObject({ source: 'declared', headingResolved: true })
    expect(report.mount.reason ?? '').not.toContain('away from up')
    expect(complaints).toEqual([])
    expect(therapist.complaints).toEqual([])
    moved.stop()
    await page.context().close()
    await therapist.page.context().close()
  })

  it('turns the signs of an engine that mirrors them, and stops by the keyboard', async () => {
    const { page, complaints, session, secret, moved } = await pairedPhone(MIRRORED(LYING))
    await page.goto(at(`/phone#${secret}`))
    await startRecording(page, 'On the back: screen up, top of the phone to the tail', async () => {})
    moved.motion = MIRRORED(STANDING)
    // The phone learns what the server has stored: some of it must be there.
    await page.getByText('Everything so far is stored').waitFor({ timeout: 60_000 })
    await page.getByRole('button', { name: /to stop/ }).focus()
    await page.keyboard.down('Enter')
    await page.getByRole('heading', { name: 'Saved' }).waitFor({ timeout: 60_000 })
    await page.keyboard.up('Enter')
    const { summary, rows } = await stored(page, session)
    expect(summary).toMatchObject({ state: 'finished', sensor: 'phone', mount: 'y=caudal,z=dorsal' })
    // Specific force: up is positive although the engine said −9.8.
    expect(mean(rows.map((row) => row[3]))).toBeGreaterThan(9)
    expect(complaints).toEqual([])
    moved.stop()
    await page.context().close()
  })

  it('says why a used link and a crooked phone do not work', async () => {
    const { page, secret, moved } = await pairedPhone(() => ({ acc: [0, 7, 7], gyr: [0, 0, 0] }))
    await page.goto(at(`/phone#${secret}`))
    await page.getByRole('button', { name: 'Allow motion data' }).click()
    await page.getByRole('button', { name: 'It lies flat: measure' }).click()
    await page.getByText('does not lie flat').waitFor({ timeout: 30_000 })
    await looked(page, 'phone-not-flat')

    const other = await openPage(use.browser, 390)
    await other.page.goto(at(`/phone#${secret}`))
    await other.page.getByText('The link was used already').waitFor()
    await looked(other.page, 'phone-used-link')
    await other.page.goto(at('/phone'))
    await other.page.getByText('This link is not complete').waitFor()
    moved.stop()
    await page.context().close()
    await other.page.context().close()
  })
})
