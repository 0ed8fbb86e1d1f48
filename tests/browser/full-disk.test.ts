import { execFileSync, spawnSync } from 'node:child_process'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, it, vi } from 'vitest'
import { startSimulated } from '../helpers/before-you-start.ts'
import {
  accessibilityFaults,
  fitsWidth,
  keepPicture,
  launchChromium,
  openPage,
  WIDTHS,
} from '../helpers/browser.ts'
import { expectStoredOnce, keepTruth, truthOf } from '../helpers/recorded-truth.ts'
import { startServer } from '../helpers/running-server.ts'
import type { RunningServer } from '../helpers/running-server.ts'

vi.setConfig({ testTimeout: 300_000, hookTimeout: 120_000 })

/** Generous: the machine may be busy. */
const SOON_MS = 60_000

let browser: Browser
let server: RunningServer

beforeAll(async () => {
  browser = await launchChromium()
  server = await startServer()
})
afterAll(async () => {
  await browser?.close()
  expect(await server?.stop()).toBe(0)
})

const limit = (bytes: string) => execFileSync('prlimit', ['--pid', String(server.pid), `--fsize=${bytes}:`])

/** What the screen says is not yet stored on the server, s. */
async function unsentS(page: Page): Promise<number> {
  const row = page.locator('dl div').filter({ hasText: 'Not yet stored' }).locator('dd')
  return Number.parseFloat(await row.innerText())
}

it.each(WIDTHS)(
  'a full disk is told on every screen, costs a recording nothing, and passes, at %i px',
  async (width) => {
    if (process.platform !== 'linux' || spawnSync('prlimit', ['--version']).status !== 0) {
      if (process.env.CI) throw new Error('not run: prlimit is missing')
      process.stderr.write('\n*** NOT RUN: a full disk in the browser (prlimit is missing) ***\n')
      return
    }
    const { page, complaints } = await openPage(browser, width)
    await keepTruth(page)
    const created = await page.request.post(`${server.url}/api/dogs`, { data: { name: `Juniper ${width}` } })
    const { id: dogId } = (await created.json()) as { id: string }
    await page.goto(`${server.url}/dogs/${dogId}/record`)
    await startSimulated(page)
    await page.getByRole('link', { name: 'Go to the hold view now' }).click()
    await page.waitForURL(/\/live\//)
    const sessionId = new URL(page.url()).pathname.split('/').at(-1)!
    await expect.poll(() => unsentS(page), { timeout: SOON_MS }).toBeLessThan(2)
    expect(complaints).toEqual([])

    limit('1')
    const banner = page.getByRole('alert').filter({ hasText: 'Nothing more can be stored' })
    await banner.waitFor({ timeout: SOON_MS })
    expect(await banner.innerText()).toMatch(
      /Make room.*The recording goes on: it is kept on this device until/s,
    )
    await page.getByText('The server takes nothing at the moment').waitFor()
    await expect.poll(() => unsentS(page), { timeout: SOON_MS }).toBeGreaterThan(5)
    await keepPicture(page, `full-disk-hold-view-${width}`)
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])

    await page.getByRole('button', { name: 'Less' }).click()
    await page
      .getByRole('button', { name: /^Hands/ })
      .first()
      .click()
    await keepPicture(page, `full-disk-short-${width}`)

    const other = await openPage(browser, width)
    for (const path of ['/', `/dogs/${dogId}`, '/settings', `/sessions/${sessionId}`]) {
      await other.page.goto(`${server.url}${path}`)
      const there = other.page.getByRole('alert').filter({ hasText: 'Nothing more can be stored' })
      await there.waitFor({ timeout: SOON_MS })
      expect(await there.innerText()).toContain('What is stored can be read')
    }
    await other.page.goto(`${server.url}/dogs/${dogId}`)
    await other.page.getByRole('heading', { name: `Juniper ${width}`, exact: true }).waitFor()
    await other.page
      .getByRole('alert')
      .filter({ hasText: 'Nothing more can be stored' })
      .waitFor({ timeout: SOON_MS })
    await keepPicture(other.page, `full-disk-dog-${width}`)
    expect(await fitsWidth(other.page)).toBe(true)
    expect(await accessibilityFaults(other.page)).toEqual([])

    limit('unlimited')
    await page
      .getByRole('status')
      .filter({ hasText: 'The server stores again' })
      .waitFor({ timeout: SOON_MS })
    await banner.waitFor({ state: 'detached', timeout: SOON_MS })
    await expect.poll(() => unsentS(page), { timeout: SOON_MS }).toBeLessThan(2)
    await page.getByRole('button', { name: 'Finish the session' }).click()
    await page.waitForURL(new RegExp(`/sessions/${sessionId}`), { timeout: SOON_MS })
    await expectStoredOnce(page, sessionId, await truthOf(page))
    await page.context().close()
    await other.page.context().close()
  },
)
