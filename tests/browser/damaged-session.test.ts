import { readFile } from 'node:fs/promises'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { parseTrace } from '#signal/trace/parse'
import {
  accessibilityFaults,
  fitsWidth,
  keepPicture,
  launchChromium,
  openPage,
  WIDTHS,
} from '../helpers/browser.ts'
import { temporaryFolder } from '../helpers/temporary-folder.ts'
import { flipStoredBytes } from '../helpers/flip-stored-bytes.ts'
import { startServer } from '../helpers/running-server.ts'
import type { RunningServer } from '../helpers/running-server.ts'
import { openReview, sessionsOf } from '../helpers/session-review.ts'

const parts: { server?: RunningServer; browser?: Browser; sessionId?: string } = {}
const folder = temporaryFolder()

beforeAll(async () => {
  const first = await startServer({ dataFolder: folder.path })
  const [session] = await sessionsOf(first.url, 'Juniper', ['foam-hands-off.csv'])
  expect(await first.stop()).toBe(0)
  flipStoredBytes(folder.path, session.id, 1)
  parts.sessionId = session.id
  parts.server = await startServer({ dataFolder: folder.path })
  parts.browser = await launchChromium()
})
afterAll(async () => {
  await parts.browser?.close()
  await parts.server?.stop()
  folder.remove()
})

it.each(WIDTHS)(
  'a damaged session opens, says what cannot be read, and gives the rest, at %i px',
  async (width) => {
    const [server, sessionId] = [parts.server!, parts.sessionId!]
    const { page, complaints } = await openPage(parts.browser!, width)
    await openReview(page, server.url, sessionId)
    const notice = page.getByRole('alert').filter({ hasText: 'Part of this recording cannot be read' })
    await notice.waitFor()
    const words = await notice.innerText()
    expect(words).toMatch(/From 0:\d\d to 1:\d\d the stored samples, of all channels, are damaged/)
    expect(words).toMatch(/Still counts/)
    expect(words).toMatch(/restore a backup/)
    expect(await page.getByText('drawn before the damage').isVisible()).toBe(true)
    // Figures and holds are there as before.
    expect(await page.getByRole('heading', { name: 'In numbers' }).isVisible()).toBe(true)
    await page.getByRole('button', { name: 'Zoom in' }).click()
    await keepPicture(page, `damaged-session-${width}`)
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])

    expect(await page.getByRole('link', { name: /^Download the trace/ }).count()).toBe(0)
    const download = page.waitForEvent('download')
    await page.getByRole('link', { name: 'Download what can be read (CSV)' }).click()
    const { trace } = parseTrace(await readFile(await (await download).path(), 'utf8'))
    expect(trace.t.length).toBe(4096)
    expect(complaints).toEqual([])
    await page.context().close()
  },
)
