import { readFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import type { Report } from '#signal/report-types'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'

const samples = fileURLToPath(new URL('../../sample-traces/', import.meta.url))

const use = browserAndServer()

/** Drops files on the page as a person does: a DataTransfer with real File objects. */
async function dropFiles(page: Page, names: readonly string[]): Promise<void> {
  const files = await Promise.all(
    names.map(async (name) => ({
      name: name.split('/').at(-1)!,
      text: await readFile(samples + name, 'utf8'),
    })),
  )
  const transfer = await page.evaluateHandle((list) => {
    const data = new DataTransfer()
    for (const { name, text } of list) data.items.add(new File([text], name, { type: 'text/csv' }))
    return data
  }, files)
  await page
    .getByRole('group')
    .filter({ hasText: 'Drop trace files here' })
    .dispatchEvent('drop', { dataTransfer: transfer })
}

async function setUpDog(page: Page, name: string): Promise<void> {
  await page.goto(use.server.url)
  await page.getByRole('link', { name: /^Set up (a|another) dog$/ }).click()
  await page.getByLabel('Name').fill(name)
  await page.getByRole('button', { name: 'Save and go on' }).click()
  await page.getByRole('heading', { level: 1, name: `The plan for ${name}` }).waitFor()
  await page.getByRole('link', { name: '4 Start' }).click()
  await page.getByRole('link', { name: `To ${name}'s page` }).click()
  await page.getByRole('heading', { level: 1, name, exact: true }).waitFor()
}

describe.each(WIDTHS)('adding traces at %i px', (width) => {
  it('a dropped trace is parsed, stored and seen with its holds; a bad one says why beside it', async () => {
    const { page, complaints } = await openPage(use.browser, width)
    await setUpDog(page, `Bramble ${width}`)
    await page.getByRole('link', { name: 'Add traces' }).first().click()
    await page.getByLabel('Exercise').fill('stand on foam pad')
    await page.getByLabel('Surface').fill('foam pad')
    await page.getByLabel('Fore to hind paws, cm').fill('45')
    await page.getByLabel('Height above the floor, cm').fill('8')
    await page.getByLabel('Firmness').selectOption('soft')
    await page.getByLabel('Does it give or tip under the paws?').selectOption('yes, it is unstable')
    await dropFiles(page, ['foam-hands-off.csv', 'bad/text-in-a-cell.csv'])

    const bad = page.getByRole('listitem').filter({ hasText: 'text-in-a-cell.csv' })
    await bad.getByRole('alert').waitFor()
    expect(await bad.innerText()).toMatch(/line \d+/i)
    const good = page.getByRole('listitem').filter({ hasText: 'foam-hands-off.csv' })
    await good.getByRole('link', { name: 'See the session' }).waitFor()
    await keepPicture(page, `add-traces-${width}`)
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])
    await good.getByRole('link', { name: 'See the session' }).click()

    await page.getByRole('heading', { name: 'Holds', exact: true }).waitFor()
    const rows = page.getByRole('table').filter({ hasText: 'Ended by' }).locator('tbody tr')
    const report = (await (await page.request.get(`${apiOf(page)}/report`)).json()) as Report
    expect(report.holds.length).toBeGreaterThanOrEqual(4)
    expect(await (await page.request.get(apiOf(page))).json()).toMatchObject({
      setUp: { surface: 'foam pad', foreToHindCm: 45, heightCm: 8, firmness: 'soft', unstable: true },
    })
    expect(await rows.count()).toBe(report.holds.length)
    await page.locator('main canvas').first().waitFor()
    // The pictures of the chosen hold come with a request of their own; folded where there is little room.
    if (width < 768) await page.getByText(/^Pictures of hold/).click()
    await page.getByRole('img', { name: /95 % prediction ellipse/ }).waitFor()
    await page.getByRole('img', { name: /by time and frequency/ }).waitFor()
    await keepPicture(page, `session-${width}`)
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])
    // The refused trace is an answer of 422, which the browser writes to the console itself.
    expect(complaints.filter((text) => !text.includes('422'))).toEqual([])
    await page.context().close()
  })

  it('the same trace again leads to its session instead of a second one', async () => {
    const { page } = await openPage(use.browser, width)
    await setUpDog(page, `Sorrel ${width}`)
    await page.getByRole('link', { name: 'Add traces' }).first().click()
    await dropFiles(page, ['quiet-stand.csv'])
    const first = page.getByRole('listitem').filter({ hasText: 'quiet-stand.csv' })
    await first.getByRole('link', { name: 'See the session' }).waitFor()
    await dropFiles(page, ['quiet-stand.csv'])
    const again = page.getByText('This trace is already stored.')
    await again.waitFor()
    const target = await first.first().getByRole('link').first().getAttribute('href')
    expect(await again.getByRole('link').getAttribute('href')).toBe(target)
    await page.context().close()
  })

  it('an undated session takes set-up, date and marks afterwards, and is measured again', async () => {
    const { page, complaints } = await openPage(use.browser, width)
    await setUpDog(page, `Clover ${width}`)
    await page.getByRole('link', { name: 'Add traces' }).first().click()
    await dropFiles(page, ['foam-hand-support.tsv'])
    await page.getByRole('link', { name: 'See the session' }).click()
    await page.getByRole('heading', { level: 1, name: 'foam-hand-support.tsv' }).waitFor()
    await page.getByRole('button', { name: 'Edit set-up' }).click()
    await page.getByLabel('Exercise').fill('stand on foam pad')
    await page.getByLabel('Surface').fill('foam pad')
    await page.getByLabel('Date and time').fill('2026-03-01T10:00')
    await page.getByRole('button', { name: 'Save' }).click()
    await page.getByRole('heading', { level: 1, name: '1 Mar 2026' }).waitFor()
    expect(await (await page.request.get(apiOf(page))).json()).toMatchObject({
      setUp: { exercise: 'stand on foam pad', surface: 'foam pad' },
      startedAt: new Date('2026-03-01T10:00').toISOString(),
    })

    const handsOffS = async () =>
      ((await (await page.request.get(`${apiOf(page)}/report`)).json()) as Report).session.handsOffHoldS!
    const before = await handsOffS()
    await page.getByText('Marks: hands on and off').click()
    await page.getByLabel('Mark', { exact: true }).selectOption('hands-on')
    // The time comes from the chosen hold. At 29 s the sample's dog stands on its own, by its marks.
    expect(await page.getByLabel('At, m:ss.s').inputValue()).toMatch(/^\d:\d\d\.\d$/)
    await page.getByLabel('At, m:ss.s').fill('0:29.0')
    await page.getByRole('button', { name: 'Add this mark' }).click()
    await page.getByText('Added: hands-on at 0:29.0', { exact: false }).waitFor()
    expect(await handsOffS()).toBeLessThan(before)
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])
    await page.getByRole('button', { name: 'Remove hands-on at 0:29.0' }).click()
    await page.getByText('Removed: hands-on at 0:29.0', { exact: false }).waitFor()
    expect(await handsOffS()).toBeCloseTo(before, 9)
    expect((await page.request.get(`${apiOf(page)}/trace.edf`)).status()).toBe(200)
    expect(complaints).toEqual([])
    await page.context().close()
  })
})

/** The API address of the session a page shows. */
function apiOf(page: Page): string {
  return `${use.server.url}/api/sessions/${new URL(page.url()).pathname.split('/').at(-1)}`
}
