import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import type { LiveStop } from '#signal/live/live-types'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { anySnapshot, FakeLive, FLOOR_MS2 } from '../helpers/fake-live.ts'

const use = browserAndServer()
const SESSION = 'fake-session'
const CAP: LiveStop = { reason: 'session-cap', atS: 300, value: 300, limit: 300 }
const OTHER_STOPS: LiveStop[] = [
  { reason: 'repetitions', atS: 200, value: 4, limit: 3 },
  { reason: 'sway', atS: 100, value: 1.62, limit: 1.5 },
  { reason: 'support', atS: 100, value: 0.31, limit: 0.25 },
]
const MOVING = { state: 'moving', holdS: 0, swayMs2: 0.4, tremorMs2: 0.1 } as const

const word = (page: Page) => page.locator('.word')
const stopPanel = (page: Page) => page.getByRole('region', { name: 'Stop cue', exact: true })

/** The hold view of a session that the test plays. */
async function watch(width: number, snapshot = anySnapshot(SESSION), sensor = 'bluetooth') {
  const { page, complaints } = await openPage(use.browser, width)
  const fake = new FakeLive(snapshot)
  await fake.install(page, sensor)
  await page.goto(`${use.server.url}/live/${SESSION}`)
  await word(page)
    .filter({ hasText: /steady|waiting/ })
    .waitFor()
  return { page, complaints, fake }
}

async function expectClean(page: Page, name: string) {
  for (const scheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme: scheme })
    await keepPicture(page, `${name}-${scheme}`)
    expect(await fitsWidth(page), name).toBe(true)
    expect(await accessibilityFaults(page), name).toEqual([])
  }
}

describe.each(WIDTHS)('hold view at %i px', (width) => {
  it('is clean in every state it can show', async () => {
    const { page, complaints, fake } = await watch(width)
    await expectClean(page, `hold-steady-${width}`)

    fake.now = MOVING
    await word(page).filter({ hasText: 'moving' }).waitFor()
    await expectClean(page, `hold-moving-${width}`)

    fake.send({ type: 'stop', stop: CAP })
    await stopPanel(page).waitFor()
    await expectClean(page, `hold-stop-${width}`)
    await stopPanel(page).getByRole('button', { name: 'Seen' }).click()
    await expectClean(page, `hold-stop-seen-${width}`)

    fake.sending = false
    await word(page).filter({ hasText: 'no signal' }).waitFor()
    fake.send({ type: 'sender', connected: false })
    await page.getByText('The recording device is gone').waitFor()
    await expectClean(page, `hold-no-signal-${width}`)

    await page.getByText('What each sound means').click()
    await page.getByText('Keys and pedal').click()
    await expectClean(page, `hold-panels-${width}`)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('is clean before the quiet stand, which a viewer can mark', async () => {
    const waiting = anySnapshot(SESSION, {
      reference: null,
      holds: [],
      marks: [],
      history: [],
      planned: null,
    })
    const { page, complaints, fake } = await watch(width, waiting)
    fake.now = { state: 'waiting', holdS: 0, swayMs2: 2 * FLOOR_MS2, tremorMs2: 0.01 }
    await page.getByText('Still enough', { exact: true }).waitFor()
    await expectClean(page, `hold-quiet-stand-${width}`)

    await page.getByRole('button', { name: 'The dog stands square' }).click()
    await page.getByText(/Standing quietly: [2-9] of 10 s/).waitFor({ timeout: 60_000 })
    fake.now = { ...fake.now, swayMs2: 0.5 }
    await page.getByText('The dog moved').waitFor({ timeout: 60_000 })
    fake.now = { ...fake.now, swayMs2: 2 * FLOOR_MS2 }
    await page.getByText('Done: 10 s of quiet standing').waitFor({ timeout: 60_000 })
    expect(fake.marks.map(({ kind }) => kind)).toEqual([
      'quiet-stand-start',
      'quiet-stand-start',
      'quiet-stand-end',
    ])
    const [, start, end] = fake.marks
    // Ten seconds of stillness, to one window of 0.1 s and its place in the stream.
    expect(end.atS - start.atS).toBeGreaterThan(9.9)
    expect(end.atS - start.atS).toBeLessThan(10.3)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('shows the stop cue with its reason, keeps every control in its place, and leaves it readable', async () => {
    const { page, fake } = await watch(width)
    const controls = page.locator('.control')
    const before = await Promise.all([0, 1].map((k) => controls.nth(k).boundingBox()))
    for (const stop of OTHER_STOPS) {
      fake.send({ type: 'stop', stop })
      await stopPanel(page)
        .getByText(`limit is ${stop.reason === 'support' ? 25 : stop.limit}`)
        .waitFor()
      expect(await Promise.all([0, 1].map((k) => controls.nth(k).boundingBox()))).toEqual(before)
    }
    fake.send({ type: 'stop', stop: CAP })
    await stopPanel(page).getByText('The session is 5:00 long; the limit is 5:00.').waitFor()
    await stopPanel(page).getByText('Limit: plan version 2.').waitFor()
    expect(await page.getByRole('alert').filter({ hasText: 'Time to stop' }).count()).toBe(1)
    expect(await Promise.all([0, 1].map((k) => controls.nth(k).boundingBox()))).toEqual(before)
    await stopPanel(page).getByRole('button', { name: 'Seen' }).click()
    await word(page).waitFor()
    expect(await page.getByText('Time to stop, at 5:00.').isVisible()).toBe(true)
    await page.context().close()
  })

  it('can be worked with the keyboard alone', async () => {
    const { page, complaints, fake } = await watch(width)
    const kinds = () => fake.marks.map(({ kind }) => kind)
    await page.keyboard.press('Space')
    await expect.poll(kinds).toEqual(['support-on'])
    await page.keyboard.press('r')
    await expect.poll(kinds).toEqual(['support-on', 'repetition-end'])

    await page.keyboard.press('n')
    const dialog = page.getByRole('dialog')
    await dialog.waitFor()
    expect(await accessibilityFaults(page)).toEqual([])
    await keepPicture(page, `hold-note-${width}`)
    await page.keyboard.press('Escape')
    // Closed and gone: until then keys still belong to it.
    await page.locator('dialog', { hasText: 'In your words' }).waitFor({ state: 'detached' })
    expect(fake.marks).toHaveLength(2)
    await page.keyboard.press('n')
    await dialog.getByLabel('In your words').focus()
    await page.keyboard.type('Lifted left hind')
    await page.keyboard.press('Enter')
    await expect.poll(() => fake.marks.at(-1)).toMatchObject({ kind: 'note', note: 'Lifted left hind' })
    await page.getByText('Lifted left hind').waitFor()

    fake.send({ type: 'stop', stop: CAP })
    await stopPanel(page).getByRole('button', { name: 'Seen' }).focus()
    // The button has the focus: space presses it and marks nothing.
    await page.keyboard.press('Space')
    await stopPanel(page).waitFor({ state: 'hidden' })
    expect(fake.marks).toHaveLength(3)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('takes a pedal that types page down, and it no longer scrolls', async () => {
    const { page, fake } = await watch(width)
    await page.getByText('Keys and pedal').click()
    await page.getByRole('button', { name: /Change.*Hands on or off/ }).click()
    await page.keyboard.press('Tab')
    await page.getByText('Tab belongs to the browser').waitFor()
    await page.keyboard.press('PageDown')
    await page.getByText('Heard: page down.').waitFor()
    await page.evaluate(() => window.scrollTo(0, 0))
    await page.keyboard.press('PageDown')
    await expect.poll(() => fake.marks.map(({ kind }) => kind)).toEqual(['support-on'])
    expect(await page.evaluate(() => window.scrollY)).toBe(0)
    await page.context().close()
  })

  it('says on its face when nothing was measured on a dog', async () => {
    for (const [sensor, badge] of [
      ['simulated harness', 'Simulated'],
      ['replay', 'Replay of a trace'],
    ]) {
      const { page } = await watch(width, anySnapshot(SESSION), sensor)
      await page.getByRole('heading', { level: 1 }).getByText(badge).waitFor()
      await page.context().close()
    }
  })
})

describe('hold view at 2 m', () => {
  it.each([
    [390, 844],
    [844, 390],
    [1280, 800],
  ])('has a clock of at least 112 px and all of the stage in sight at %i × %i', async (width, height) => {
    const { page, fake } = await watch(width)
    await page.setViewportSize({ width, height })
    fake.send({ type: 'stop', stop: CAP })
    await stopPanel(page).waitFor()
    // 112 px at 160 px an inch is a digit of 12.8 mm, 22 minutes of arc at 2 m (ISO 9241 prefers 20 to 22).
    const fontPx = await page
      .locator('.seconds')
      .evaluate((element) => Number.parseFloat(getComputedStyle(element).fontSize))
    expect(fontPx).toBeGreaterThanOrEqual(112)
    const controls = await page.locator('.control').last().boundingBox()
    expect(controls!.y + controls!.height).toBeLessThanOrEqual(height)
    const folder = `hold-2m-${width}`
    await keepPicture(page, folder)
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])
    await page.context().close()
  })
})
