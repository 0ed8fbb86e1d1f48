/**
 * Makes the pictures of the README from the running product with the demo dog:
 * node --conditions=source --import tsx tests/helpers/make-screenshots.ts
 */
import { mkdir } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import type { Dog, SessionSummary } from '#protocol/resources'
import { launchChromium, openPage } from './browser.ts'
import { startServer } from './running-server.ts'

const folder = fileURLToPath(new URL('../../dashboard/screenshots/', import.meta.url))
const SESSIONS_WANTED = 60

const server = await startServer({ args: ['--demo'] })
const browser = await launchChromium()
const get = async <T>(path: string): Promise<T> => (await (await fetch(server.url + path)).json()) as T

/** Waits for the demo to have come far enough. */
async function until<T>(ask: () => Promise<T | undefined>): Promise<T> {
  for (;;) {
    const answer = await ask()
    if (answer !== undefined) return answer
    await new Promise((resolve) => setTimeout(resolve, 500))
  }
}

await mkdir(folder, { recursive: true })
const dog = await until(async () => (await get<Dog[]>('/api/dogs')).find((d) => d.demo))
const { page } = await openPage(browser, 1280)

const live = await until(async () =>
  (await get<{ sessions: SessionSummary[] }>('/api/sessions')).sessions.find((s) => s.state === 'recording'),
)
await page.goto(`${server.url}/live/${live.id}`)
// A hold of the first repetition, some seconds in.
await page.getByText(/^Repetition 1\b/).waitFor({ timeout: 120_000 })
await page
  .getByLabel('Hold clock')
  .filter({ hasText: /^[4-9]/ })
  .waitFor({ timeout: 120_000 })
await page.setViewportSize({ width: 1280, height: 1250 })
await page.screenshot({ path: `${folder}hold-view-1280.png` })

await until(async () =>
  (await get<Dog>(`/api/dogs/${dog.id}`)).sessions >= SESSIONS_WANTED ? true : undefined,
)
await page.goto(`${server.url}/dogs/${dog.id}`)
await page.waitForLoadState('networkidle')
await page.screenshot({ path: `${folder}dog-1280.png` })

const { sessions } = await get<{ sessions: SessionSummary[] }>(`/api/sessions?dogId=${dog.id}`)
const shown = sessions.find((s) => s.state === 'finished' && (s.holds ?? 0) >= 3)!
await page.goto(`${server.url}/sessions/${shown.id}`)
await page.getByRole('heading', { name: 'Holds', exact: true }).waitFor()
await page.waitForLoadState('networkidle')
await page.setViewportSize({ width: 1280, height: 1500 })
await page.screenshot({ path: `${folder}session-1280.png` })

await browser.close()
await server.stop()
