import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { startSimulated } from '../helpers/before-you-start.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'

const use = browserAndServer()

const stateWord = (page: Page) => page.locator('.word')

describe.each(WIDTHS)('a live session at %i px', (width) => {
  it('streams from one browser to the store and to the hold view of two', async () => {
    const other = width === 1280 ? 390 : 1280
    const handler = await openPage(use.browser, width)
    const therapist = await openPage(use.browser, other)
    const created = await handler.page.request.post(`${use.server.url}/api/dogs`, {
      data: { name: `Teasel ${width}` },
    })
    const { id: dogId } = (await created.json()) as { id: string }

    await handler.page.goto(`${use.server.url}/dogs/${dogId}/record`)
    await startSimulated(handler.page)
    await handler.page.getByRole('link', { name: 'Go to the hold view now' }).click()
    await handler.page.waitForURL(/\/live\//)
    const sessionId = new URL(handler.page.url()).pathname.split('/').at(-1)!
    // The session is opened with the first sample.
    const onServer = () => therapist.page.request.get(`${use.server.url}/api/sessions/${sessionId}`)
    await expect.poll(async () => (await onServer()).status(), { timeout: 30_000 }).toBe(200)
    await therapist.page.goto(`${use.server.url}/live/${sessionId}`)

    // The simulated dog stands quietly first: both screens must come to say so, from the same samples.
    for (const { page } of [handler, therapist]) {
      await stateWord(page).filter({ hasText: 'steady' }).waitFor({ timeout: 30_000 })
    }
    await keepPicture(handler.page, `hold-view-${width}`)
    expect(await fitsWidth(handler.page)).toBe(true)
    expect(await accessibilityFaults(handler.page)).toEqual([])
    const [mine, theirs] = await Promise.all([handler, therapist].map(({ page }) => holdClock(page)))
    expect(Math.abs(mine - theirs)).toBeLessThanOrEqual(2)

    // A mark set on one screen is seen on the other.
    const support = (page: Page) =>
      page
        .locator('button')
        .filter({ hasText: /Hands-(on|off)/ })
        .first()
    const before = await support(handler.page).innerText()
    await support(therapist.page).click()
    await expect.poll(() => support(handler.page).innerText(), { timeout: 10_000 }).not.toBe(before)

    await handler.page.getByRole('button', { name: 'Finish the session' }).click()
    await handler.page.waitForURL(new RegExp(`/sessions/${sessionId}`), { timeout: 30_000 })
    await handler.page.getByRole('heading', { name: 'Holds', exact: true }).waitFor({ timeout: 30_000 })
    const stored = await handler.page.request.get(`${use.server.url}/api/sessions/${sessionId}`)
    expect(await stored.json()).toMatchObject({ state: 'finished', sensor: 'simulated harness' })
    const trace = await (
      await handler.page.request.get(`${use.server.url}/api/sessions/${sessionId}/trace.csv`)
    ).text()
    expect(trace.split('\n').length).toBeGreaterThan(500)
    expect([...handler.complaints, ...therapist.complaints]).toEqual([])
    await handler.page.context().close()
    await therapist.page.context().close()
  })
})

async function holdClock(page: Page): Promise<number> {
  return Number.parseFloat(await page.getByLabel('Hold clock').innerText())
}
