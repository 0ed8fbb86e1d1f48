import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest'
import { addSessions } from '../faults/api.ts'
import { SteadySender } from '../faults/steady-sender.ts'
import { accessibilityFaults, fitsWidth, keepPicture, launchChromium, openPage } from '../helpers/browser.ts'
import { InfluxProcess, newDatabase } from '../helpers/influx-server.ts'
import { hasInfluxd } from '../helpers/influxd.mjs'
import { startServer } from '../helpers/running-server.ts'
import type { RunningServer } from '../helpers/running-server.ts'

vi.setConfig({ testTimeout: 300_000, hookTimeout: 120_000 })
const SOON_MS = 60_000
const POLL = { timeout: SOON_MS, interval: 50 }

describe.skipIf(!hasInfluxd())('a session whose samples are out of reach', () => {
  let influx: InfluxProcess
  let server: RunningServer
  let browser: Browser
  beforeAll(async () => {
    influx = await InfluxProcess.start()
    const { target } = await newDatabase(influx)
    const env = {
      SWAYBOOK_SERIES: 'influx',
      INFLUX_URL: influx.url,
      INFLUX_DATABASE: target.api === 'v1' ? target.database : '',
    }
    server = await startServer({ env })
    browser = await launchChromium()
  })
  afterAll(async () => {
    await browser?.close()
    await server?.stop()
    await influx?.remove()
  })

  it('says so, and shows its figures by itself when they can be read again', async () => {
    const [id] = await addSessions(server.url, 1)
    const sender = new SteadySender({ wsUrl: () => server.url.replace('http', 'ws'), session: id, seed: 1 })
    const running = sender.run()
    await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(1500)
    await influx.kill()
    sender.end()
    await running
    const { page } = await openPage(browser, 390)
    await page.goto(`${server.url}/sessions/${id}`)
    await page
      .getByText('Waiting to be analysed: the samples are out of reach.')
      .waitFor({ timeout: SOON_MS })
    await keepPicture(page, 'samples-away-390')
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])
    await influx.run()
    await page.getByRole('heading', { name: 'In numbers' }).waitFor({ timeout: SOON_MS })
    await influx.kill()
    const trace = await page.request.get(`${server.url}/api/sessions/${id}/trace.csv`)
    expect(trace.status()).toBe(503)
    await page.reload()
    await page.getByText('so traces cannot be downloaded').waitFor({ timeout: SOON_MS })
    await influx.run()
    await page.getByText('so traces cannot be downloaded').waitFor({ state: 'detached', timeout: SOON_MS })
    await page.context().close()
  })
})
