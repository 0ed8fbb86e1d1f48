import { describe, expect, it, vi } from 'vitest'
import type { Page } from 'playwright-core'
import { formatTraceCsv } from '#signal/trace/format'
import { benchTrace } from '../bench/traces.ts'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { isSaved, openReview, sessionsOf, sessionsOfFiles, stored } from '../helpers/session-review.ts'

const use = browserAndServer()
vi.setConfig({ testTimeout: 300_000 })

/** A minute of the harness swinging at 2 Hz: nobody stands still in it. */
function restless(): string {
  const rows = Array.from({ length: 6000 }, (_, k) => {
    const swing = (phase: number) => (4 * Math.sin(2 * Math.PI * 2 * (k / 100) + phase)).toFixed(3)
    return `${(k / 100).toFixed(2)},${swing(0)},${swing(1)},${(9.81 + Number(swing(2))).toFixed(3)}`
  })
  return ['t_s,ax_mps2,ay_mps2,az_mps2', ...rows].join('\n')
}

/** Light and dark are looked at, hold on this width and pass axe-core. */
async function expectClean(page: Page, name: string) {
  for (const colorScheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme })
    await keepPicture(page, `session-${name}-${colorScheme}`)
    expect(await fitsWidth(page), name).toBe(true)
    expect(await accessibilityFaults(page), name).toEqual([])
  }
  await page.emulateMedia({ colorScheme: 'light' })
}

async function recordedSession(name: string): Promise<string> {
  const post = async (path: string, body: object) => {
    const answer = await fetch(use.server.url + path, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify(body),
    })
    return (await answer.json()) as { id: string }
  }
  const dog = await post('/api/dogs', { name })
  const setUp = { exercise: 'stand on foam pad', surface: 'foam pad' }
  return (await post('/api/sessions', { dogId: dog.id, sensor: 'replay', setUp })).id
}

describe.each(WIDTHS)('a session at %i px', (width) => {
  it('without a hold says so, and without marks what they are for', async () => {
    const [session] = await sessionsOfFiles(use.server.url, `None ${width}`, [
      { name: 'restless.csv', data: restless() },
    ])
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/sessions/${session.id}`)
    await page.getByText('No hold was found', { exact: false }).waitFor()
    await page.locator('main canvas').first().waitFor()
    await page.getByText('(0)', { exact: false }).waitFor()
    await expectClean(page, `no-hold-${width}`)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('with 60 holds shows the first, the chosen one, and all on request', async () => {
    const data = formatTraceCsv(benchTrace(30), { decimals: 3 })
    const [session] = await sessionsOfFiles(use.server.url, `Many ${width}`, [{ name: 'many.csv', data }])
    const { holds } = await stored(use.server.url, session.id).report()
    expect(holds.length).toBeGreaterThanOrEqual(60)
    const { page, complaints } = await openPage(use.browser, width)
    await openReview(page, use.server.url, session.id)
    const table = page.getByRole('table').filter({ hasText: 'Ended by' }).locator('tbody tr')
    expect(await table.count()).toBeLessThanOrEqual(11)
    await expectClean(page, `many-${width}`)
    await page.getByRole('button', { name: `Show all ${holds.length} holds` }).click()
    expect(await table.count()).toBe(holds.length)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('begins with the main answers, and its list of parts leads to each part', async () => {
    const [session] = await sessionsOf(use.server.url, `Order ${width}`, ['foam-hands-off.csv'])
    const { page } = await openPage(use.browser, width)
    await openReview(page, use.server.url, session.id)
    const links = page.getByRole('navigation', { name: 'Parts of this page' }).getByRole('link')
    const headings = await page.getByRole('heading', { level: 2 }).allInnerTexts()
    expect(headings.slice(0, 3)).toEqual(['In numbers', 'Limits passed', 'Repetitions and tiring'])
    expect(await links.count()).toBe(headings.length)
    for (const link of await links.all()) {
      await link.click()
      const target = page.locator((await link.getAttribute('href'))!)
      await expect
        .poll(async () => {
          const box = await target.boundingBox()
          return box !== null && box.y > -2 && box.y < page.viewportSize()!.height
        })
        .toBe(true)
    }
    await page.evaluate(() => window.scrollTo(0, 0))
    await expectClean(page, `order-${width}`)
    await page.context().close()
  })

  it('that is being recorded can be watched; finished without a sample it says why nothing is shown', async () => {
    const id = await recordedSession(`Now ${width}`)
    const { page } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/sessions/${id}`)
    await page.getByRole('link', { name: 'Watch it live' }).waitFor()
    await expectClean(page, `recording-${width}`)
    await fetch(`${use.server.url}/api/sessions/${id}/finish`, { method: 'POST' })
    const alert = page.getByRole('alert').filter({ hasText: 'This recording could not be analysed' })
    await alert.waitFor()
    expect(await alert.innerText()).toMatch(/analysed\.\s+\S+/)
    await expectClean(page, `failed-${width}`)
    await page.context().close()
  })

  it('that was deleted meanwhile says so after the next edit and after loading anew', async () => {
    const [session] = await sessionsOf(use.server.url, `Gone ${width}`, ['foam-hands-off.csv'])
    const { page } = await openPage(use.browser, width)
    const lanes = await openReview(page, use.server.url, session.id)
    await fetch(`${use.server.url}/api/sessions/${session.id}`, { method: 'DELETE' })
    await lanes.getByRole('option', { name: /^Hold 2 begins/ }).focus()
    await page.keyboard.press('Shift+ArrowRight')
    const alerts = page.getByRole('alert').filter({ hasText: 'This session is not there any more' })
    await alerts.waitFor()
    await page.getByLabel('Notes on this session').fill('Too late.')
    await expect.poll(() => alerts.count()).toBe(2)
    expect(
      await page.evaluate(() => Object.keys(localStorage).filter((key) => key.includes('unsaved'))),
    ).toEqual([])
    await expectClean(page, `gone-${width}`)
    page.on('dialog', (dialog) => void dialog.accept())
    await page.reload()
    await page.getByRole('heading', { name: 'The session could not be found' }).waitFor()
    await expectClean(page, `missing-${width}`)
    await page.context().close()
  })

  it('offers an edit that was not finished when the page was loaded anew', async () => {
    const [session] = await sessionsOf(use.server.url, `Half ${width}`, ['foam-hands-off.csv'])
    const { page } = await openPage(use.browser, width)
    const lanes = await openReview(page, use.server.url, session.id)
    await page.route('**/edits', (route) => route.abort('internetdisconnected'))
    await lanes.getByRole('option', { name: /^Hold 2 begins/ }).focus()
    await page.keyboard.press('Shift+ArrowRight')
    page.on('dialog', (dialog) => void dialog.accept())
    await page.getByRole('alert').filter({ hasText: 'Your changes are not saved yet' }).waitFor()
    await page.unroute('**/edits')
    await page.reload()
    const left = page.getByRole('alert').filter({ hasText: 'Changes of an earlier visit' })
    await left.waitFor()
    await expectClean(page, `left-${width}`)
    await left.getByRole('button', { name: 'Put them back and save' }).click()
    await isSaved(page)
    expect((await stored(use.server.url, session.id).edits()).holds).toHaveLength(1)
    await page.context().close()
  })
})

describe.each(WIDTHS)('notes on a session at %i px', (width) => {
  it('that could not be saved are offered on the next visit', async () => {
    const [session] = await sessionsOf(use.server.url, `Words ${width}`, ['foam-hands-off.csv'])
    const server = stored(use.server.url, session.id)
    const { page } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/sessions/${session.id}`)
    const field = page.getByLabel('Notes on this session')
    await page.route(`**/api/sessions/${session.id}`, (route) =>
      route.request().method() === 'PATCH' ? route.abort('internetdisconnected') : route.fallback(),
    )
    await field.fill('Leaned on the left hind.')
    await page.getByText('Your words are kept on this device', { exact: false }).waitFor()
    await expectClean(page, `notes-failed-${width}`)
    page.on('dialog', (dialog) => void dialog.accept())
    await page.unroute(`**/api/sessions/${session.id}`)
    await page.reload()
    const left = page.getByRole('alert').filter({ hasText: 'Notes of an earlier visit' })
    await left.waitFor()
    expect(await left.innerText()).toContain('Leaned on the left hind.')
    await expectClean(page, `notes-left-${width}`)
    await left.getByRole('button', { name: 'Put them below what is here' }).click()
    await expect.poll(async () => (await server.summary()).notes).toBe('Leaned on the left hind.')
    await page.getByText('Saved.', { exact: true }).waitFor()
    await page.reload()
    await field.waitFor()
    expect(await field.inputValue()).toBe('Leaned on the left hind.')
    expect(await left.count()).toBe(0)
    await page.context().close()
  })

  it('that somebody else changed meanwhile are shown beside mine, and both are kept', async () => {
    const [session] = await sessionsOf(use.server.url, `Two ${width}`, ['foam-hands-off.csv'])
    const server = stored(use.server.url, session.id)
    const { page } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/sessions/${session.id}`)
    const field = page.getByLabel('Notes on this session')
    await field.waitFor()
    const { version } = await server.summary()
    const theirs = await fetch(`${use.server.url}/api/sessions/${session.id}`, {
      method: 'PATCH',
      headers: { 'content-type': 'application/json', 'if-match': `"${version}"` },
      body: JSON.stringify({ notes: 'Theirs: new harness.' }),
    })
    expect(theirs.status).toBe(200)
    await field.fill('Mine: a calm evening.')
    const alert = page.getByRole('alert').filter({ hasText: 'Somebody else changed these notes' })
    await alert.waitFor()
    expect(await alert.innerText()).toContain('Theirs: new harness.')
    await expectClean(page, `notes-conflict-${width}`)
    await alert.getByRole('button', { name: 'Keep both' }).click()
    await expect
      .poll(async () => (await server.summary()).notes)
      .toBe('Theirs: new harness.\nMine: a calm evening.')
    await page.context().close()
  })
})

describe('beside an earlier session', () => {
  // On the floor: on an unstable surface the first weeks are familiarisation and make no baseline.
  it('with a baseline of its set-up, each figure is within or beyond what noise does', async () => {
    const files = Array.from({ length: 9 }, (_, day) => {
      const startedAtUs = Date.UTC(2026, 2, 1 + day, 9) * 1000
      const data = formatTraceCsv({ ...benchTrace(2, 30, `day ${day}`), startedAtUs }, { decimals: 4 })
      return { name: `day-${day}.csv`, data }
    })
    const sessions = await sessionsOfFiles(use.server.url, 'Baseline', files, 'floor')
    const last = sessions.at(-1)!
    const trends = (await (
      await fetch(`${use.server.url}/api/dogs/${last.dogId}/trends?measure=swayRms`)
    ).json()) as {
      lines: { sessionIds: string[]; trend: { baseline: { mdc95: { fall: number; rise: number } } } }[]
    }
    const { fall, rise } = trends.lines.find(({ sessionIds }) => sessionIds.includes(last.id))!.trend.baseline
      .mdc95
    for (const width of WIDTHS) {
      const { page, complaints } = await openPage(use.browser, width)
      await page.goto(`${use.server.url}/sessions/${last.id}`)
      const beside = page.getByRole('region', { name: 'Compare with an earlier session', exact: true })
      const row = beside.getByRole('row').filter({ hasText: 'Sway' }).first()
      await row.getByText(/the noise of this set-up \(/).waitFor()
      const told = await row.innerText()
      const [now, before] = [last, sessions.at(-2)!].map(({ comparableSwayMs2 }) => comparableSwayMs2!)
      const percent = (now / before - 1) * 100
      expect(told).toContain(percent < fall || percent > rise ? 'beyond the noise' : 'within the noise')
      expect(told.replace('−', '-')).toContain(`${percent.toFixed(0)} %`)
      await expectClean(page, `compare-${width}`)
      expect(complaints).toEqual([])
      await page.context().close()
    }
  })
})
