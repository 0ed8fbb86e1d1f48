import type { Page } from 'playwright-core'
import { expect, it } from 'vitest'
import { openPage } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { press, tabTo, typeInto } from '../helpers/keyboard.ts'

const use = browserAndServer()
const MINUTE_MS = 60_000

const title = (page: Page, name: string | RegExp) => page.getByRole('heading', { level: 1, name }).waitFor()
const button = (page: Page, name: string | RegExp) => page.getByRole('button', { name })
const link = (page: Page, name: string | RegExp) =>
  page.getByRole('link', { name, exact: typeof name === 'string' })

/** A mouse that is used fails the run. */
async function withoutMouse(page: Page) {
  await page.addInitScript(() => {
    for (const type of ['pointerdown', 'mousedown', 'touchstart']) {
      addEventListener(type, () => reportError(new Error(`a ${type} in a run by keyboard`)), true)
    }
  })
}

/** A session of two days ago, so that the morning after can be asked about. */
async function addEarlierSession(dogId: string) {
  const rows = Array.from({ length: 1200 }, (_, i) => `${i / 50},${Math.sin(i / 9) / 50},0,9.81`)
  const form = new FormData()
  form.set('exercise', 'stand on foam pad')
  form.set('surface', 'foam pad')
  form.set('startedAt', new Date(Date.now() - 2 * 86_400_000).toISOString())
  form.set('unit', 'm/s2')
  form.set('file', new Blob([`t,ax,ay,az\n${rows.join('\n')}\n`]), 'earlier.csv')
  const stored = await fetch(`${use.server.url}/api/dogs/${dogId}/traces`, { method: 'POST', body: form })
  expect(stored.status).toBe(201)
}

it('the first Tab of every page is the way past the header, and it works', async () => {
  const { page } = await openPage(use.browser, 1280)
  await page.goto(use.server.url)
  await title(page, /./)
  await press(page, link(page, 'Skip to the content'))
  expect(await page.evaluate(() => document.activeElement?.id)).toBe('main')
  await page.keyboard.press('Tab')
  const inMain = await page.evaluate(() => document.querySelector('main')!.contains(document.activeElement))
  expect(inMain).toBe(true)
  await page.context().close()
})

it(
  'the owner sets up a dog, records, reviews, checks in and sees trends by keyboard alone',
  async () => {
    const { page, complaints } = await openPage(use.browser, 1280)
    await withoutMouse(page)
    await page.goto(use.server.url)
    await press(page, link(page, /^Set up (a|another) dog$/))
    await title(page, 'Set up a dog')
    await page.keyboard.type('Bryony')
    await page.keyboard.press('Enter')
    await title(page, 'The plan for Bryony')
    await press(page, page.getByRole('radio', { name: /Yes/ }), 'Space')
    await typeInto(page, page.getByLabel(/^Exercise/), 'stand on foam pad')
    await typeInto(page, page.getByLabel(/^Surface/), 'foam pad')
    await typeInto(page, page.getByLabel('Hold target, s'), '5')
    await typeInto(page, page.getByLabel(/^Who set it/), 'Rowan Vale')
    await page.keyboard.press('Enter')
    await title(page, 'A sensor for Bryony')
    await press(page, button(page, 'Decide later, go on'))
    await title(page, 'Ready for the first session with Bryony')
    const dogId = new URL(page.url()).pathname.split('/')[2]
    await addEarlierSession(dogId)
    await press(page, page.getByRole('checkbox', { name: /vet approves/ }), 'Space')
    await press(page, link(page, 'Before you start'))

    await title(page, 'Before you start with Bryony')
    // The morning after, in one key.
    await press(page, button(page, /^Normal/))
    await page.getByText('Last answer:').waitFor()
    await press(page, button(page, 'Yes, exactly so'))
    await tabTo(page, page.getByRole('radio', { name: /Phone in the harness|Bluetooth/ }).first())
    const simulated = page.getByRole('radio', { name: /Simulated harness/ })
    // Arrows choose within the group.
    for (let k = 0; k < 5 && !(await simulated.isChecked()); k++) await page.keyboard.press('ArrowDown')
    await press(page, button(page, 'Start the simulated harness'))
    await press(page, page.getByRole('button', { name: 'Start', exact: true }))
    await title(page, /Quiet stand/)
    await page.waitForURL(/\/live\//, { timeout: 2 * MINUTE_MS })
    await title(page, /Bryony, live/)
    await page.locator('.word').first().waitFor()
    await page.keyboard.press('n')
    const dialog = page.getByRole('dialog')
    await dialog.waitFor()
    await typeInto(page, dialog.getByLabel('In your words'), 'a word by keyboard')
    await page.keyboard.press('Enter')
    await page.getByText('a word by keyboard').first().waitFor()
    // Nothing traps: from the note back to the controls and to the end of the session.
    await press(page, button(page, 'Finish the session'))
    await page.waitForURL(/\/sessions\//, { timeout: 2 * MINUTE_MS })
    await title(page, /^Bryony, /)
    await press(page, page.getByRole('main').getByRole('link', { name: 'Bryony' }).first())
    await title(page, 'Bryony')
    await press(page, link(page, 'Trends'))
    await title(page, /Trends/)
    await press(page, link(page, 'Diary'))
    await title(page, /Diary/)
    expect(complaints).toEqual([])
    await page.context().close()
  },
  6 * MINUTE_MS,
)

it(
  'the therapist changes the plan, watches, notes, and reads trends and report by keyboard alone',
  async () => {
    const made = await fetch(`${use.server.url}/api/dogs`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ name: 'Sorrel' }),
    })
    const { id } = (await made.json()) as { id: string }
    const { page, complaints } = await openPage(use.browser, 1280)
    await withoutMouse(page)
    await page.goto(use.server.url)
    await press(page, link(page, 'Sorrel'))
    await title(page, 'Sorrel')
    await press(page, link(page, 'Plan'))
    await title(page, 'Plan of Sorrel')
    await press(page, button(page, 'Write the first plan'))
    await typeInto(page, page.getByRole('textbox', { name: /^Exercise/ }), 'stand on foam pad')
    await typeInto(page, page.getByRole('textbox', { name: /^Surface/ }), 'foam pad')
    await typeInto(page, page.getByLabel(/^Vet or therapist/), 'Rowan Vale')
    await page.keyboard.press('Enter')
    await page.getByText('Version 1 is kept.').waitFor()
    await press(page, button(page, 'Change the plan'))
    await typeInto(page, page.getByLabel('Hold target, s'), '6')
    await page.keyboard.press('Enter')
    await page.getByText('Version 2 is kept.').waitFor()

    // At home somebody records, in a window of their own.
    const home = await openPage(use.browser, 390)
    await home.page.goto(`${use.server.url}/dogs/${id}/record`)
    await home.page.getByRole('button', { name: 'Yes, exactly so' }).click()
    await home.page.getByRole('radio', { name: 'Simulated harness' }).check()
    await home.page.getByRole('button', { name: 'Start the simulated harness' }).click()
    await home.page.getByRole('button', { name: 'Start', exact: true }).click()
    await title(home.page, /Quiet stand/)

    await press(page, link(page, 'Sessions'))
    await title(page, 'Sorrel')
    await press(page, link(page, /^Live now/))
    await title(page, /Sorrel, live/)
    await page.locator('.word').first().waitFor()
    await page.keyboard.press('n')
    const dialog = page.getByRole('dialog')
    await dialog.waitFor()
    await typeInto(page, dialog.getByLabel('In your words'), 'seen from afar')
    await page.keyboard.press('Enter')
    await page.getByText('seen from afar').first().waitFor()
    const sessionId = new URL(page.url()).pathname.split('/')[2]
    const marks = async () =>
      (await (await fetch(`${use.server.url}/api/sessions/${sessionId}/marks`)).text()).includes(
        'seen from afar',
      )
    await expect.poll(marks, { timeout: MINUTE_MS }).toBe(true)
    await home.page.context().close()

    await page.goto(`${use.server.url}/dogs/${id}`)
    await press(page, link(page, 'Trends'))
    await title(page, /Trends/)
    await press(page, link(page, 'Report'))
    await title(page, /Report/)
    expect(complaints).toEqual([])
    await page.context().close()
  },
  6 * MINUTE_MS,
)
