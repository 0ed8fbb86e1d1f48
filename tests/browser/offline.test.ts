import type { Page } from 'playwright-core'
import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest'
import { startSimulated } from '../helpers/before-you-start.ts'
import { fitsWidth, keepPicture, launchChromium, openPage, accessibilityFaults } from '../helpers/browser.ts'
import type { Browser } from 'playwright-core'
import { CutProxy } from '../helpers/cut-proxy.ts'
import { expectStoredOnce, keepTruth, truthOf } from '../helpers/recorded-truth.ts'
import { startServer } from '../helpers/running-server.ts'
import type { RunningServer } from '../helpers/running-server.ts'

vi.setConfig({ testTimeout: 300_000, hookTimeout: 120_000 })

/** Generous: the machine may be busy. */
const SOON_MS = 60_000

let browser: Browser
let server: RunningServer
let proxy: CutProxy

beforeAll(async () => {
  browser = await launchChromium()
  server = await startServer()
  proxy = await CutProxy.before(server.url)
})

// A test that failed in the middle leaves the line cut.
beforeEach(() => proxy.restore())

afterAll(async () => {
  await browser?.close()
  await proxy?.close()
  expect(await server?.stop()).toBe(0)
})

async function newDog(page: Page, name: string): Promise<string> {
  const created = await page.request.post(`${proxy.url}/api/dogs`, { data: { name } })
  return ((await created.json()) as { id: string }).id
}

/** From the Before you start screen to the hold view of a recording; gives the session. */
async function record(page: Page): Promise<string> {
  await startSimulated(page)
  await page.getByRole('link', { name: 'Go to the hold view now' }).click()
  await page.waitForURL(/\/live\//)
  await expect.poll(() => stateWord(page), { timeout: SOON_MS }).toBe('steady')
  return new URL(page.url()).pathname.split('/').at(-1)!
}

/** A page, by way of the proxy, that records the simulated dog and shows her steady in the hold view. */
async function recordingPage(dogName: string) {
  const { page } = await openPage(browser, 1280, { serviceWorkers: 'allow' })
  await keepTruth(page)
  const dogId = await newDog(page, dogName)
  await page.goto(`${proxy.url}/dogs/${dogId}/record`)
  const sessionId = await record(page)
  await expect.poll(() => unsentS(page), { timeout: SOON_MS }).toBeLessThan(2)
  return { page, dogId, sessionId }
}

/** Until the service worker keeps what the first page had loaded. */
async function keptOnDevice(page: Page, path: string) {
  const kept = () => page.evaluate((asked) => caches.match(asked).then((copy) => copy !== undefined), path)
  await expect.poll(kept, { timeout: SOON_MS }).toBe(true)
}

const stateWord = (page: Page) => page.locator('.word').innerText()

/** What the screen says is not yet stored on the server, s. */
async function unsentS(page: Page): Promise<number> {
  const row = page.locator('dl div').filter({ hasText: 'Not yet stored' }).locator('dd')
  return Number.parseFloat(await row.innerText())
}

/** The session clock of the hold view, s. */
async function sessionS(page: Page): Promise<number> {
  const text = await page.getByLabel('Tremor and session clock').locator('.number').last().innerText()
  const [, minutes, seconds] = /(\d+):(\d\d)/.exec(text)!
  return Number(minutes) * 60 + Number(seconds)
}

async function finish(page: Page, sessionId: string) {
  await page.getByRole('button', { name: 'Finish the session' }).click()
  await page.waitForURL(new RegExp(`/sessions/${sessionId}`), { timeout: SOON_MS })
}

describe('a recording without a network', () => {
  it('goes on for a minute with the server killed and restarted, and stores every sample once', async () => {
    const { page, sessionId } = await recordingPage('Teasel')
    const before = await sessionS(page)
    await page.context().setOffline(true)
    proxy.cut()
    await server.kill()
    await expect.poll(() => sessionS(page), { timeout: 2 * SOON_MS }).toBeGreaterThan(before + 30)
    expect(await unsentS(page)).toBeGreaterThan(25)
    expect(await stateWord(page)).not.toBe('no signal')
    await keepPicture(page, 'hold-view-offline')
    server = await startServer({ dataFolder: server.dataFolder, port: Number(new URL(server.url).port) })
    await expect.poll(() => sessionS(page), { timeout: 2 * SOON_MS }).toBeGreaterThan(before + 60)
    expect(await unsentS(page)).toBeGreaterThan(55)
    proxy.restore()
    await page.context().setOffline(false)
    await expect.poll(() => unsentS(page), { timeout: SOON_MS }).toBeLessThan(2)
    await finish(page, sessionId)
    await expectStoredOnce(page, sessionId, await truthOf(page))
    await page.context().close()
  })

  it('notices a connection that swallows everything, and stores every sample once', async () => {
    const { page, sessionId } = await recordingPage('Bramble')
    proxy.line = 'swallow'
    await expect.poll(() => unsentS(page), { timeout: SOON_MS }).toBeGreaterThan(20)
    proxy.restore()
    await expect.poll(() => unsentS(page), { timeout: SOON_MS }).toBeLessThan(2)
    await finish(page, sessionId)
    await expectStoredOnce(page, sessionId, await truthOf(page))
    await page.context().close()
  })

  it('sends after a reload what the page before could not, from the page kept on this device', async () => {
    const { page, sessionId, dogId } = await recordingPage('Sorrel')
    await keptOnDevice(page, `/api/dogs/${dogId}`)
    proxy.cut()
    await expect.poll(() => unsentS(page), { timeout: SOON_MS }).toBeGreaterThan(5)
    const truth = await truthOf(page)
    page.on('dialog', (dialog) => void dialog.accept())
    await page.goto(`${proxy.url}/dogs/${dogId}`)
    const note = page.getByText(/of Sorrel's session of .* are still on this device/)
    await note.waitFor({ timeout: SOON_MS })
    await page.getByText('Shown from this device').waitFor({ timeout: SOON_MS })
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])
    await keepPicture(page, 'unsent-1280')
    proxy.restore()
    await page.getByRole('button', { name: 'Send them and finish' }).click()
    await note.waitFor({ state: 'detached', timeout: SOON_MS })
    const summary = () => page.request.get(`${proxy.url}/api/sessions/${sessionId}`)
    await expect
      .poll(async () => ((await (await summary()).json()) as { state: string }).state, { timeout: SOON_MS })
      .toBe('finished')
    await expectStoredOnce(page, sessionId, truth, { goesOn: true })
    await page.context().close()
  })

  it('can begin without one, from the page kept on this device', async () => {
    const { page } = await openPage(browser, 1280, { serviceWorkers: 'allow' })
    await keepTruth(page)
    const dogId = await newDog(page, 'Clover')
    await page.goto(`${proxy.url}/dogs/${dogId}/record`)
    await keptOnDevice(page, `/api/dogs/${dogId}`)
    proxy.cut()
    await page.goto(`${proxy.url}/dogs/${dogId}/record`)
    const sessionId = await record(page)
    await expect.poll(() => unsentS(page), { timeout: SOON_MS }).toBeGreaterThan(5)
    proxy.restore()
    await expect.poll(() => unsentS(page), { timeout: SOON_MS }).toBeLessThan(2)
    await finish(page, sessionId)
    await expectStoredOnce(page, sessionId, await truthOf(page))
    await page.context().close()
  })

  it('is not offered to a second tab, which is refused when it tries all the same', async () => {
    const { page, sessionId, dogId } = await recordingPage('Nettle')
    const second = await page.context().newPage()
    await second.goto(`${proxy.url}/dogs/${dogId}`)
    await second.getByRole('heading', { name: 'Nettle', exact: true }).waitFor()
    expect(await second.getByText('still on this device').count()).toBe(0)
    expect(await second.getByText('was never finished').count()).toBe(0)
    const answer = await second.evaluate(async (session) => {
      const file = /\/assets\/recorder\.worker[^"`]*\.js/.exec(await (await fetch('/sw.js')).text())![0]
      const database = await new Promise<IDBDatabase>((resolve, reject) => {
        const opening = indexedDB.open('swaybook-recorder')
        opening.onsuccess = () => resolve(opening.result)
        opening.onerror = () => reject(opening.error)
      })
      const streams = await new Promise<{ recording: { stream: string; session: { id: string } } }[]>(
        (resolve) => {
          const asked = database.transaction('streams').objectStore('streams').getAll()
          asked.onsuccess = () => resolve(asked.result)
        },
      )
      database.close()
      const { stream } = streams.find(({ recording }) => recording.session.id === session)!.recording
      const recorder = new Worker(file, { type: 'module' })
      const told = new Promise<{ type: string; message: string }>((resolve) => {
        recorder.onmessage = ({ data }) => resolve(data)
      })
      recorder.postMessage({ type: 'resume', stream, serverUrl: location.origin })
      const first = await told
      recorder.terminate()
      return first
    }, sessionId)
    expect(answer).toMatchObject({ type: 'failed', message: expect.stringContaining('Another tab') })
    await second.close()
    await finish(page, sessionId)
    await expectStoredOnce(page, sessionId, await truthOf(page))
    await page.context().close()
  })
})
