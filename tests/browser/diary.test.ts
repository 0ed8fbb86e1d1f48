import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { madePlan } from '../helpers/made-plan.ts'

const use = browserAndServer()

async function call<T>(method: string, path: string, body?: object, headers = {}): Promise<T> {
  const response = await fetch(use.server.url + path, {
    method,
    headers: { ...(body && { 'content-type': 'application/json' }), ...headers },
    ...(body && { body: JSON.stringify(body) }),
  })
  if (!response.ok) throw new Error(`${method} ${path}: ${await response.text()}`)
  const text = await response.text()
  return (text === '' ? undefined : JSON.parse(text)) as T
}

const isoDaysAgo = (days: number) => new Date(Date.now() - days * 86_400_000).toISOString()

/** A session of so many days ago; each file differs, since a dog has each content once. */
async function addSession(dogId: string, daysAgo: number): Promise<string> {
  const rows = Array.from({ length: 1200 }, (_, i) => `${i / 50},${Math.sin(i / (9 + daysAgo)) / 50},0,9.81`)
  const form = new FormData()
  form.set('exercise', 'stand on foam pad')
  form.set('surface', 'foam pad')
  form.set('startedAt', isoDaysAgo(daysAgo))
  form.set('unit', 'm/s2')
  form.set('file', new Blob([`t,ax,ay,az\n${rows.join('\n')}\n`]), `session-${daysAgo}.csv`)
  const stored = await fetch(`${use.server.url}/api/dogs/${dogId}/traces`, { method: 'POST', body: form })
  if (stored.status !== 201) throw new Error(await stored.text())
  return ((await stored.json()) as { id: string }).id
}

/** Juniper with a plan, five sessions and answers, the newest not answered for. */
async function dogWithWeeks(name: string): Promise<string> {
  const { id } = await call<{ id: string }>('POST', '/api/dogs', { name })
  const plan = madePlan({ daysPerWeek: 2 })
  await call('PUT', `/api/dogs/${id}/plan`, plan, { 'if-none-match': '*' })
  for (const [daysAgo, answer] of [
    [1, null],
    [8, 'normal'],
    [9, 'tired'],
    [15, 'better'],
    [22, 'normal'],
  ] as const) {
    const session = await addSession(id, daysAgo)
    if (answer) await call('PUT', `/api/sessions/${session}/check-in`, { answer })
  }
  return id
}

async function expectClean(page: Page, name: string) {
  for (const scheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme: scheme })
    await keepPicture(page, `${name}-${scheme}`)
    expect(await fitsWidth(page), name).toBe(true)
    expect(await accessibilityFaults(page), name).toEqual([])
  }
}

describe.each(WIDTHS)('diary at %i px', (width) => {
  it('asks for the last session in one tap, holds weeks against the plan, and advises less', async () => {
    const dogId = await dogWithWeeks(`Juniper ${width}`)
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/dogs/${dogId}/diary`)
    await page.getByText(/How was Juniper \d+ the morning after/).waitFor()
    await page
      .getByRole('cell', { name: /of 2 days/ })
      .first()
      .waitFor()
    await page.getByText('Day by day').waitFor()
    await expectClean(page, `diary-asked-${width}`)

    await page.getByRole('button', { name: 'Tired' }).click()
    await page.getByRole('heading', { name: 'For the next session' }).waitFor()
    await page.getByText("at most 1 of the plan's 3 repetitions", { exact: false }).waitFor()
    await page.getByText('ask your therapist before going on', { exact: false }).waitFor()
    expect(await page.getByText(/How was Juniper/).count()).toBe(0)
    // What the plan allows is no matter while the therapist is to be asked.
    expect(await page.getByText('allowed by the plan').count()).toBe(0)
    await expectClean(page, `diary-advised-${width}`)

    // Changed later, where the session stands.
    await page
      .getByRole('button', { name: /^Change\s+the answer of/ })
      .first()
      .click()
    await page.getByRole('button', { name: 'Normal' }).click()
    await page.getByRole('heading', { name: 'For the next session' }).waitFor({ state: 'detached' })
    const { sessions } = await call<{ sessions: { checkIn: { answer: string; version: number } }[] }>(
      'GET',
      `/api/sessions?dogId=${dogId}`,
    )
    expect(sessions[0].checkIn).toMatchObject({ answer: 'normal', version: 2 })
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('keeps medication, changes it against a newer version, and deletes when asked twice', async () => {
    const { id: dogId } = await call<{ id: string }>('POST', '/api/dogs', { name: `Sedge ${width}` })
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/dogs/${dogId}/diary`)
    await page.getByText('Nothing yet.', { exact: false }).waitFor()
    await expectClean(page, `diary-empty-${width}`)
    await page.getByRole('button', { name: 'Write something down' }).click()
    await page.getByRole('radio', { name: 'Medication' }).check()
    await page.getByLabel('Name of the medication').fill('joint tablet')
    await page.getByLabel('Dose, as prescribed').fill('half a tablet with the evening meal')
    await expectClean(page, `diary-form-${width}`)
    await page.getByRole('button', { name: 'Save' }).click()
    await page.getByText('Medication now: joint tablet, half a tablet', { exact: false }).waitFor()

    await page.getByRole('button', { name: /^Edit/ }).click()
    await page.getByRole('textbox', { name: 'Note' }).fill('with food')
    const diary = `/api/dogs/${dogId}/diary`
    const [entry] = await call<Record<'id' | 'kind' | 'fromDate' | 'title', string>[]>('GET', diary)
    const { kind, fromDate, title } = entry
    const newer = { kind, fromDate, title, untilDate: null, dose: 'a quarter', note: null }
    await call('PUT', `${diary}/${entry.id}`, newer, { 'if-match': '"1"' })
    await page.getByRole('button', { name: 'Save' }).click()
    await page.getByText('changed on another device while you were writing', { exact: false }).waitFor()
    await page.getByText('joint tablet, a quarter', { exact: false }).first().waitFor()
    expect(await page.getByRole('textbox', { name: 'Note' }).inputValue()).toBe('with food')
    await expectClean(page, `diary-conflict-${width}`)
    await page.getByRole('button', { name: 'Save' }).click()
    await page.getByText('with food').waitFor()
    expect(await call('GET', diary)).toMatchObject([{ note: 'with food', version: 3 }])

    await page.getByRole('button', { name: 'Delete', exact: true }).click()
    await page.getByRole('button', { name: 'Keep' }).click()
    await page.getByRole('button', { name: 'Delete', exact: true }).click()
    await page.getByRole('button', { name: 'Delete for good' }).click()
    await page.getByText('Nothing yet.', { exact: false }).waitFor()
    expect(await call('GET', diary)).toEqual([])
    // Chromium itself reports the 412 that was provoked.
    expect(complaints.filter((line) => !line.includes('412'))).toEqual([])
    await page.context().close()
  })
})

describe('words without an end', () => {
  it('do not make the diary wider than the screen, and a day far ahead is asked about first', async () => {
    const { id: dogId } = await call<{ id: string }>('POST', '/api/dogs', { name: 'Sorrel'.repeat(13) })
    const diary = `/api/dogs/${dogId}/diary`
    const { page } = await openPage(use.browser, 390)
    await page.goto(`${use.server.url}/dogs/${dogId}/diary`)
    await page.getByRole('button', { name: 'Write something down' }).click()
    await page.getByLabel('In a few words').fill('x'.repeat(120))
    await page.getByText('No more fits: 120 letters at most.').waitFor()
    await page.getByRole('textbox', { name: 'Note' }).fill('y'.repeat(300))
    const today = await page.locator('input[type=date]').first().inputValue()
    const far = `${Number(today.slice(0, 4)) + 2}${today.slice(4)}`
    const days = page.locator('input[type=date]')
    await days.first().fill(far)
    await page.getByRole('button', { name: 'Save' }).click()
    await page.getByText('That is more than a year ahead. Is the year right?').waitFor()
    expect(await call('GET', diary)).toEqual([])
    await days.first().fill(today)
    await page.getByRole('button', { name: 'Save', exact: true }).click()
    await page.getByText('x'.repeat(120)).first().waitFor()
    await expectClean(page, 'diary-long-words-390')
    await page.context().close()
  })
})

describe('diary without an answer from the server', () => {
  it('says what is missing, and is whole again after "try again"', async () => {
    const dogId = await dogWithWeeks('Burnet')
    const { page } = await openPage(use.browser, 390)
    await page.route('**/dose?**', (route) => route.abort())
    await page.goto(`${use.server.url}/dogs/${dogId}/diary`)
    await page.getByRole('heading', { name: 'What was planned and done could not be loaded' }).waitFor()
    await page.getByText('Day by day').waitFor()
    await expectClean(page, 'diary-error-390')
    await page.unroute('**/dose?**')
    await page
      .getByRole('region', { name: 'Planned and done' })
      .getByRole('button', { name: 'Try again' })
      .click()
    await page
      .getByRole('cell', { name: /of 2 days/ })
      .first()
      .waitFor()
    await page.context().close()
  })

  it('shows what was kept on this device, with the date it is of', async () => {
    const dogId = await dogWithWeeks('Yarrow')
    const { page } = await openPage(use.browser, 390, { serviceWorkers: 'allow' })
    await page.goto(use.server.url)
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined))
    await page.goto(`${use.server.url}/dogs/${dogId}/diary`)
    await page
      .getByRole('cell', { name: /of 2 days/ })
      .first()
      .waitFor()
    await page.getByText('Session,', { exact: false }).first().waitFor()
    await page.context().setOffline(true)
    await page.reload()
    await page
      .getByRole('cell', { name: /of 2 days/ })
      .first()
      .waitFor()
    await page.getByText('Session,', { exact: false }).first().waitFor()
    await keepPicture(page, 'diary-offline-390')
    await page.context().close()
  })
})
