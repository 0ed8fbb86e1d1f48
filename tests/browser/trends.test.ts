import { readFile } from 'node:fs/promises'
import type { Browser, Page } from 'playwright-core'
import { parse } from 'csv-parse/sync'
import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest'
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import {
  accessibilityFaults,
  fitsWidth,
  keepPicture,
  launchChromium,
  openPage,
  WIDTHS,
} from '../helpers/browser.ts'
import { CutProxy } from '../helpers/cut-proxy.ts'
import { startServer } from '../helpers/running-server.ts'
import type { RunningServer } from '../helpers/running-server.ts'
import { storeTrendProgramme } from '../helpers/trend-programme.ts'

vi.setConfig({ testTimeout: 300_000, hookTimeout: 120_000 })
/** Generous: the machine may be busy. */
const SOON_MS = 60_000

let browser: Browser
let server: RunningServer
let proxy: CutProxy
let dataFolder: string

beforeAll(async () => {
  dataFolder = await mkdtemp(join(tmpdir(), 'swaybook-test-'))
  await storeTrendProgramme(dataFolder)
  server = await startServer({ dataFolder })
  proxy = await CutProxy.before(server.url)
  browser = await launchChromium()
})

beforeEach(() => proxy.restore())

afterAll(async () => {
  await browser?.close()
  await proxy?.close()
  expect(await server?.stop()).toBe(0)
  await rm(dataFolder, { recursive: true, force: true })
})

async function openTrends(width: number) {
  const { page, complaints } = await openPage(browser, width)
  page.setDefaultTimeout(SOON_MS)
  await page.goto(`${server.url}/dogs/juniper/trends`)
  await page.getByTestId('trend-picture').waitFor()
  return { page, complaints }
}

async function expectClean(page: Page, name: string) {
  for (const scheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme: scheme })
    await keepPicture(page, `${name}-${scheme}`)
    expect(await fitsWidth(page), name).toBe(true)
    expect(await accessibilityFaults(page), name).toEqual([])
  }
}

const choose = (page: Page, words: RegExp) => page.getByRole('radio', { name: words }).check()
const FOAM = /stand, foam pad/

describe.each(WIDTHS)('trends at %i px', (width) => {
  it('says in words what the sessions say, draws it, and names what was left out', async () => {
    const { page, complaints } = await openTrends(width)
    await choose(page, FOAM)
    await page.getByText('Steadier', { exact: true }).waitFor()
    await page.getByText(/^Sway fell by \d+ % per 4 weeks/).waitFor()
    await page.getByText(/Noted as a surface that gives or tips/).waitFor()
    await page.getByText(/1 session left out, set aside by a person: thunderstorm/).waitFor()
    await page.getByText(/1 session left out, below what the steps of the sensor let it measure/).waitFor()
    await page.getByText('How to read this').click()
    await page.getByText(/Theil–Sen slope \(Sen 1968\)/).waitFor()
    await page.getByText('The same as a table').click()
    await expect.poll(() => page.locator('tbody tr').count()).toBe(100)
    await page.getByRole('button', { name: 'Show more of 140 sessions' }).click()
    await expect.poll(() => page.locator('tbody tr').count()).toBe(140)
    await expectClean(page, `trends-one-${width}`)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('puts set-ups side by side on one axis of time, each with a scale of its own or one for all', async () => {
    const { page, complaints } = await openTrends(width)
    await page.getByRole('button', { name: 'Side by side' }).click()
    await expect.poll(() => page.getByTestId('trend-picture').count()).toBe(3)
    const scales = () =>
      page
        .getByTestId('trend-picture')
        .evaluateAll((pictures) =>
          pictures.map((picture) =>
            [...picture.querySelectorAll('text[text-anchor=end]')].map((t) => t.textContent).join(),
          ),
        )
    expect(new Set(await scales()).size).toBeGreaterThan(1)
    await page.getByRole('button', { name: 'One scale for all' }).click()
    await expect.poll(async () => new Set(await scales()).size).toBe(1)
    await page.getByRole('checkbox', { name: /wobble board/ }).check()
    await expect.poll(() => page.getByTestId('trend-picture').count()).toBe(4)
    await expectClean(page, `trends-side-${width}`)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('is read with the keyboard alone, from the measure to a session', async () => {
    const { page } = await openTrends(width)
    await page.getByLabel('Measure').focus()
    await page.keyboard.press('Tab')
    await expect(page.evaluate(() => document.activeElement?.id)).resolves.toBe('trend-span')
    // Two units, two views, the radio group, the picture: a handful of stops, whatever the number of sessions.
    const slider = page.getByRole('slider')
    let stops = 0
    while (!(await slider.evaluate((element) => element === document.activeElement))) {
      await page.keyboard.press('Tab')
      expect(++stops).toBeLessThan(10)
    }
    await page.keyboard.press('End')
    expect(await slider.getAttribute('aria-valuetext')).toMatch(/^session 140 of 140, /)
    await page.keyboard.press('ArrowLeft')
    expect(await slider.getAttribute('aria-valuenow')).toBe('139')
    await page
      .getByRole('status')
      .filter({ hasText: /mm\/s²; newest; running average/ })
      .waitFor()
    await page.keyboard.press('Home')
    await page.keyboard.press('ArrowDown')
    await page
      .getByRole('status')
      .filter({ hasText: /Plan version 1, set by Rowan Vale/ })
      .waitFor()
    await page.keyboard.press('End')
    await page.keyboard.press('Enter')
    await page.waitForURL(/\/sessions\/floor-139$/)
    await page.context().close()
  })
})

describe('trends', () => {
  it('keeps what a person says, with its version, and reckons anew', async () => {
    const { page } = await openTrends(1280)
    await choose(page, FOAM)
    await page.getByText(/Not counted for it: \d+ sessions from/).waitFor()
    await page.getByLabel(/The dog knew this surface/).check()
    await page.getByText(/Somebody said that the dog knew this surface/).waitFor()
    await page.getByText(/Last changed .* on this computer/).waitFor()
    const settings = async () =>
      (await (await fetch(`${server.url}/api/dogs/juniper/trend-settings`)).json()) as {
        version: number
        familiar: string[]
      }
    expect(await settings()).toMatchObject({ version: 1, familiar: [expect.any(String)] })

    // Somebody else, meanwhile.
    const { familiar } = await settings()
    const body = { familiar, withLookAlikes: [], baselineSessions: 8 }
    await fetch(`${server.url}/api/dogs/juniper/trend-settings`, {
      method: 'PUT',
      headers: { 'content-type': 'application/json', 'if-match': '"1"' },
      body: JSON.stringify(body),
    })
    await page.getByLabel(/The dog knew this surface/).uncheck()
    await page.getByText(/Somebody else changed these meanwhile/).waitFor()
    await expect.poll(() => page.getByLabel('Sessions that make the baseline').inputValue()).toBe('8')
    expect((await settings()).version).toBe(2)
    await page.context().close()
  })

  it('remembers the measure, and looks only at the days asked for, saying so', async () => {
    const { page } = await openTrends(1280)
    await page.getByLabel('Measure').selectOption({ label: 'Best hold' })
    await page.getByText(/^Best hold in s$/).waitFor()
    await page.reload()
    await page.getByText(/^Best hold in s$/).waitFor()
    await page.getByRole('combobox', { name: 'Sessions', exact: true }).selectOption('own')
    await page.getByLabel('First day').fill('2025-11-01')
    await page.getByLabel('Last day').fill('2025-11-30')
    await page.getByText(/Only the sessions of the chosen days/).waitFor()
    await page
      .getByRole('radio', { name: FOAM })
      .and(page.getByLabel(/30 sessions/))
      .waitFor()
    await page.getByLabel('First day').fill('2024-01-01')
    await page.getByLabel('Last day').fill('2024-01-31')
    await page.getByRole('heading', { name: 'No sessions in these days' }).waitFor()
    await expectClean(page, 'trends-no-days')
    await page.context().close()
  })

  it('gives every session as CSV', async () => {
    const { page } = await openTrends(1280)
    const download = page.waitForEvent('download')
    await page.getByRole('link', { name: 'All set-ups as CSV' }).click()
    const rows = parse(await readFile(await (await download).path()), { columns: true }) as object[]
    expect(rows).toHaveLength(140 + 140 + 40 + 3 + 1)
    await page.context().close()
  })

  it('says that the first day lies after the last one, asks the server nothing and shows no picture', async () => {
    const { page, complaints } = await openTrends(390)
    await page.locator('#trend-span').selectOption('own')
    await page.getByLabel('Last day').fill('2026-01-01')
    const asked: string[] = []
    page.on('request', (request) => request.url().includes('2026-02-01') && asked.push(request.url()))
    await page.getByLabel('First day').fill('2026-02-01')
    await page.getByText('The first day lies after the last one.').waitFor()
    expect(await page.getByTestId('trend-picture').count()).toBe(0)
    expect(asked).toEqual([])
    await page.getByLabel('First day').fill('')
    await page.getByText('The first day lies after the last one.').waitFor({ state: 'detached' })
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('says what is missing while there are no sessions', async () => {
    const created = await fetch(`${server.url}/api/dogs`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ name: 'Tansy' }),
    })
    const { id } = (await created.json()) as { id: string }
    const { page } = await openPage(browser, 390)
    await page.goto(`${server.url}/dogs/${id}/trends`)
    await page.getByRole('heading', { name: 'No sessions yet' }).waitFor()
    await expectClean(page, 'trends-empty')
    await page.context().close()
  })

  it('opens without a network as it was last seen, and says of when that is', async () => {
    const { page } = await openPage(browser, 390, { serviceWorkers: 'allow' })
    page.setDefaultTimeout(SOON_MS)
    await page.goto(`${proxy.url}/dogs/juniper/trends`)
    await page.getByTestId('trend-picture').waitFor()
    const kept = () =>
      page.evaluate(
        async () => (await caches.match('/api/dogs/juniper/trends?measure=swayRms')) !== undefined,
      )
    await expect.poll(kept, { timeout: SOON_MS }).toBe(true)
    proxy.cut()
    await page.goto(`${proxy.url}/dogs/juniper/trends`)
    await page.getByTestId('trend-picture').waitFor()
    await page.getByText(/Shown from this device, as of/).waitFor()
    await keepPicture(page, 'trends-offline')
    await page.getByLabel('Measure').selectOption({ label: 'Tremor' })
    await page.getByText('The trends could not be loaded').waitFor()
    expect(await accessibilityFaults(page)).toEqual([])
    await page.context().close()
  })
})
