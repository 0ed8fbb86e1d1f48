import { readFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { GROUPS } from '../../dashboard/lib/numbers/groups.ts'
import {
  accessibilityFaults,
  fitsWidth,
  keepPicture,
  launchChromium,
  openPage,
  WIDTHS,
} from '../helpers/browser.ts'
import { startServer } from '../helpers/running-server.ts'
import type { RunningServer } from '../helpers/running-server.ts'

let server: RunningServer
let browser: Browser

beforeAll(async () => {
  server = await startServer()
  browser = await launchChromium()
})
afterAll(async () => {
  await browser?.close()
  expect(await server?.stop()).toBe(0)
})

const measures = GROUPS.flatMap((group) => group.measures)

describe.each(WIDTHS)('what the numbers mean, at %i px', (width) => {
  it('is clean in light and dark, and every picture is drawn and fits', async () => {
    const { page, complaints } = await openPage(browser, width)
    for (const scheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme: scheme })
      await page.goto(`${server.url}/numbers`)
      await page.getByRole('heading', { level: 1, name: 'What the numbers mean' }).waitFor()
      await page.waitForLoadState('networkidle')
      await keepPicture(page, `numbers-${width}-${scheme}`)
      expect(await fitsWidth(page)).toBe(true)
      expect(await accessibilityFaults(page)).toEqual([])
    }
    const pictures = page.locator('article svg[role=img]')
    expect(await pictures.count()).toBeGreaterThanOrEqual(measures.length)
    for (const picture of await pictures.all()) {
      const name = (await picture.getAttribute('aria-label'))!
      const box = (await picture.boundingBox())!
      expect(box.width, name).toBeGreaterThan(200)
      expect(box.x + box.width, name).toBeLessThanOrEqual(width)
    }
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('no words of a picture lie outside of it or on each other', async () => {
    const { page } = await openPage(browser, width)
    await page.goto(`${server.url}/numbers`)
    await page.getByRole('heading', { level: 1 }).waitFor()
    await page.waitForLoadState('networkidle')
    const faults = await page.locator('article svg[role=img]').evaluateAll((pictures) =>
      pictures.flatMap((picture) => {
        const frame = picture.getBoundingClientRect()
        const texts = [...picture.querySelectorAll('text')].map((text) => ({
          words: text.textContent,
          box: text.getBoundingClientRect(),
        }))
        const outside = texts
          .filter(({ box }) => box.left < frame.left - 1 || box.right > frame.right + 1)
          .map(({ words }) => `${words} sticks out of: ${picture.ariaLabel}`)
        const touching = texts.flatMap((a, k) =>
          texts
            .slice(k + 1)
            .filter(
              (b) =>
                Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left) > 1 &&
                // Line boxes are taller than what is written in them.
                Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top) > 4,
            )
            .map((b) => `${a.words} lies on ${b.words} in: ${picture.ariaLabel}`),
        )
        return [...outside, ...touching]
      }),
    )
    expect(faults).toEqual([])
    await page.context().close()
  })

  it('is one click away everywhere, and a link to one measure leads there', async () => {
    const { page, complaints } = await openPage(browser, width)
    await page.goto(server.url)
    await page.getByRole('link', { name: width < 600 ? 'Numbers' : 'What the numbers mean' }).click()
    await page.getByRole('heading', { level: 1, name: 'What the numbers mean' }).waitFor()
    await page.goto(`${server.url}/numbers#jerk`)
    const jerk = page.getByRole('heading', { name: 'Jerk', exact: true })
    await jerk.waitFor()
    await expect.poll(() => jerk.evaluate((heading) => heading.getBoundingClientRect().top)).toBeLessThan(400)
    expect(await jerk.evaluate((heading) => heading.getBoundingClientRect().top)).toBeGreaterThanOrEqual(0)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('a session leads from its numbers to their meaning, and back', async () => {
    const json = { 'content-type': 'application/json' }
    const dog = await fetch(`${server.url}/api/dogs`, {
      method: 'POST',
      headers: json,
      body: JSON.stringify({ name: 'Sorrel' }),
    })
    const { id } = (await dog.json()) as { id: string }
    const trace = fileURLToPath(new URL('../../sample-traces/foam-hands-off.csv', import.meta.url))
    const form = new FormData()
    form.set('file', new Blob([await readFile(trace)]), 'foam-hands-off.csv')
    const stored = await fetch(`${server.url}/api/dogs/${id}/traces`, { method: 'POST', body: form })
    const session = (await stored.json()) as { id: string }
    const { page, complaints } = await openPage(browser, width)
    await page.goto(`${server.url}/sessions/${session.id}`)
    await page.getByRole('link', { name: 'What the numbers of a hold mean' }).click()
    const sway = page.getByRole('heading', { name: 'Sway (RMS) and its interval' })
    await sway.waitFor()
    expect(new URL(page.url()).hash).toBe('#sway')
    await expect.poll(() => sway.evaluate((heading) => heading.getBoundingClientRect().top)).toBeLessThan(400)
    await page.goBack()
    await page.getByRole('link', { name: 'What these numbers mean' }).waitFor()
    await keepPicture(page, `session-with-link-${width}`)
    expect(complaints).toEqual([])
    await page.context().close()
  })
})

describe('printed', () => {
  it('is dark on white without what only works on a screen, whatever the scheme', async () => {
    const { page } = await openPage(browser, 1280)
    await page.emulateMedia({ colorScheme: 'dark', media: 'print' })
    await page.goto(`${server.url}/numbers`)
    await page.getByRole('heading', { level: 1 }).waitFor()
    await page.waitForLoadState('networkidle')
    expect(await page.getByRole('navigation').filter({ visible: true }).count()).toBe(0)
    await keepPicture(page, 'numbers-print')
    const brightness = await page.evaluate(() => {
      const sum = (color: string) =>
        (color.match(/\d+/g) ?? []).slice(0, 3).reduce((s, v) => s + Number(v), 0)
      const body = getComputedStyle(document.body)
      return { paper: sum(body.backgroundColor), ink: sum(body.color) }
    })
    expect(brightness.paper).toBeGreaterThan(700)
    expect(brightness.ink).toBeLessThan(200)
    await page.context().close()
  })
})
