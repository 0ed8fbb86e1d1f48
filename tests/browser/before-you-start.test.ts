import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import type { NewPlan } from '#protocol/resources'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { startSimulated } from '../helpers/before-you-start.ts'

const use = browserAndServer()

const PLAN: NewPlan = {
  exercises: [
    {
      id: 'pad',
      setUp: {
        exercise: 'stand on foam pad',
        surface: 'foam pad, 8 cm',
        foreToHindCm: 45,
        leftToRightCm: 20,
        heightCm: 8,
        firmness: 'soft',
        unstable: true,
      },
      holdTargetS: 8,
      repetitions: 3,
      notes: 'Hands at the hips until she stands.',
    },
    {
      id: 'board',
      setUp: { exercise: 'fore paws on rocker board', surface: 'rocker board' },
      holdTargetS: 5,
      repetitions: 2,
      notes: null,
    },
  ],
  sessionCapS: 300,
  sessionsPerDay: 1,
  daysPerWeek: 5,
  stopRules: { swayRatio: 1.5, holdRatio: 0.5, supportRise: 0.25 },
  setBy: 'Rowan Vale',
  validFrom: '2026-03-01',
  notes: null,
}

async function call<T>(method: string, path: string, body?: object, headers = {}): Promise<T> {
  const response = await fetch(use.server.url + path, {
    method,
    headers: { 'content-type': 'application/json', ...headers },
    ...(body && { body: JSON.stringify(body) }),
  })
  if (!response.ok) throw new Error(`${method} ${path}: ${await response.text()}`)
  return (await response.json()) as T
}

/** A dog with a plan and a session of two days ago, with nobody's word on the morning after. */
async function dogWithPlanAndSession(name: string): Promise<string> {
  const { id } = await call<{ id: string }>('POST', '/api/dogs', { name })
  await call('PUT', `/api/dogs/${id}/plan`, PLAN, { 'if-none-match': '*' })
  const startedAt = new Date(Date.now() - 2 * 86_400_000).toISOString()
  const rows = Array.from({ length: 1200 }, (_, i) => `${i / 50},${Math.sin(i / 9) / 50},0,9.81`)
  const form = new FormData()
  form.set('exercise', 'stand on foam pad')
  form.set('surface', 'foam pad, 10 cm')
  form.set('startedAt', startedAt)
  form.set('file', new Blob([`t,ax,ay,az\n${rows.join('\n')}\n`]), 'morning.csv')
  form.set('unit', 'm/s2')
  const stored = await fetch(`${use.server.url}/api/dogs/${id}/traces`, { method: 'POST', body: form })
  if (stored.status !== 201) throw new Error(await stored.text())
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

describe.each(WIDTHS)('before you start at %i px', (width) => {
  it('leads from the morning after to a planned session that says so, in taps', async () => {
    const dogId = await dogWithPlanAndSession(`Sorrel ${width}`)
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/dogs/${dogId}/record`)
    await page.getByText(/How was Sorrel \d+ the morning after/).waitFor()
    await page.getByText('set by Rowan Vale', { exact: false }).waitFor()
    await expectClean(page, `before-asked-${width}`)

    // One tap answers; less is advised, in numbers of the plan.
    await page.getByRole('button', { name: 'Tired' }).click()
    await page.getByText("at most 1 of the plan's 3 repetitions", { exact: false }).waitFor()
    await page.getByRole('link', { name: 'Leave it out today' }).waitFor()
    await page.getByText('decide about today', { exact: false }).waitFor()
    await expectClean(page, `before-advised-${width}`)
    await page.getByRole('button', { name: 'Go on with the smaller numbers' }).click()
    await page.getByText('today: holds of 4 s, 1 repetition', { exact: false }).waitFor()
    const { sessions } = await call<{ sessions: { checkIn: { answer: string } | null }[] }>(
      'GET',
      `/api/sessions?dogId=${dogId}`,
    )
    expect(sessions[0].checkIn?.answer).toBe('tired')

    // The plan's set-up is another one than last time: said kindly, one tap confirms.
    await page.getByText('Another set-up simply makes a trend line', { exact: false }).waitFor()
    expect(await page.getByRole('button', { name: 'Start', exact: true }).isDisabled()).toBe(true)
    await page.getByRole('button', { name: 'Yes, exactly so' }).click()
    await page.getByRole('radio', { name: 'Simulated harness' }).check()
    await page.getByRole('button', { name: 'Start the simulated harness' }).click()
    await page.getByText('plausible at rest', { exact: false }).waitFor({ timeout: 30_000 })
    await page.getByText('as stated, within 5 %').waitFor({ timeout: 30_000 })
    await expectClean(page, `before-checked-${width}`)

    await page.getByRole('button', { name: 'Start', exact: true }).click()
    await page.getByRole('heading', { name: /Quiet stand on the floor/ }).waitFor()
    await expectClean(page, `before-quiet-stand-${width}`)
    await page.getByRole('link', { name: /to the hold view/ }).click()
    // Half of the plan's 8 s and 5 min, on this device.
    await page.getByText('Target 4 s', { exact: false }).waitFor({ timeout: 30_000 })
    await page.getByText('of 2:30').waitFor()
    const sessionId = new URL(page.url()).pathname.split('/').at(-1)!
    await expect
      .poll(() => fetch(`${use.server.url}/api/sessions/${sessionId}`).then((answer) => answer.json()), {
        timeout: 30_000,
      })
      .toMatchObject({
        planned: { planVersion: 1, exerciseId: 'pad' },
        setUp: PLAN.exercises[0].setUp,
        setUpConfirmedAt: expect.any(String),
      })
    await page.getByRole('button', { name: 'Finish the session' }).click()
    await page.waitForURL(/\/sessions\//, { timeout: 60_000 })
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('goes from the check-in over the advice to the start with the keyboard alone', async () => {
    const dogId = await dogWithPlanAndSession(`Tansy ${width}`)
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/dogs/${dogId}/record`)
    await page.getByText(/How was Tansy \d+ the morning after/).waitFor()
    await pressTo(page, 'Tab', 'Sore')
    await page.keyboard.press('Enter')
    await page.getByText('do not train a sore dog', { exact: false }).waitFor()
    await expectClean(page, `before-sore-${width}`)
    // The way out is the first thing after the answer.
    await pressTo(page, 'Tab', 'Leave it out today')
    await pressTo(page, 'Tab', 'They said to go on, with less')
    await page.keyboard.press('Enter')
    await page.getByText('Today: less than the plan').waitFor()
    await pressTo(page, 'Tab', 'Yes, exactly so')
    await page.keyboard.press('Enter')
    await page.getByText('8 cm high, soft, unstable', { exact: false }).first().waitFor()
    expect(await page.getByText('decide about today', { exact: false }).count()).toBe(0)
    await pressTo(page, 'Tab', 'Decide again')
    await page.keyboard.press('Enter')
    await page.getByText('decide about today', { exact: false }).waitFor()
    await pressTo(page, 'Tab', 'Leave it out today')
    await page.keyboard.press('Enter')
    await page.waitForURL(new RegExp(`/dogs/${dogId}$`))
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('can be gone through with the keyboard alone', async () => {
    const { id } = await call<{ id: string }>('POST', '/api/dogs', { name: `Fennel ${width}` })
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/dogs/${id}/record`)
    await page.getByText('No plan was given', { exact: false }).waitFor()
    await expectClean(page, `before-no-plan-${width}`)
    await pressTo(page, 'Tab', 'Exercise')
    await page.keyboard.type('stand on foam pad')
    await pressTo(page, 'Tab', 'Surface')
    await page.keyboard.type('foam pad')
    await page.keyboard.press('Enter')
    await page.getByText('Set-up:', { exact: false }).first().waitFor()
    // The first radio by Tab, the others by arrows: as every group of radios.
    const first = await page
      .getByRole('radio')
      .first()
      .evaluate((radio: HTMLInputElement) => radio.labels?.[0]?.textContent?.trim() ?? '')
    await pressTo(page, 'Tab', first)
    await pressTo(page, 'ArrowDown', 'Simulated harness')
    await pressTo(page, 'Tab', 'Start the simulated harness')
    await page.keyboard.press('Enter')
    await page.getByText('Gravity').waitFor()
    await pressTo(page, 'Tab', 'Start', true)
    await page.keyboard.press('Enter')
    await page.getByText('sway now', { exact: false }).waitFor({ timeout: 30_000 })
    await pressTo(page, 'Tab', 'Stop and store')
    await page.keyboard.press('Enter')
    await page.waitForURL(/\/sessions\//, { timeout: 60_000 })
    expect(complaints).toEqual([])
    await page.context().close()
  })
})

/** What has the focus is called so: its label, or its text. */
const focused = (page: Page): Promise<string> =>
  page.evaluate(() => {
    const element = document.activeElement as HTMLInputElement | null
    return (element?.labels?.[0]?.textContent ?? element?.textContent ?? '').trim()
  })

/** Presses a key until what has the focus begins with a name (or is it, with `exact`). */
async function pressTo(page: Page, key: 'Tab' | 'ArrowDown', name: string, exact = false): Promise<void> {
  for (let k = 0; k < 80; k++) {
    const now = await focused(page)
    if (exact ? now === name : now.startsWith(name)) return
    await page.keyboard.press(key)
  }
  throw new Error(`${key} never reached ${name}, but ended at ${await focused(page)}`)
}

describe('the simulated harness', () => {
  it('says so at its quiet stand and marks it itself', async () => {
    const { id } = await call<{ id: string }>('POST', '/api/dogs', { name: 'Thistle' })
    const { page } = await openPage(use.browser, 390)
    await page.goto(`${use.server.url}/dogs/${id}/record`)
    await startSimulated(page)
    await page.getByRole('heading', { name: /Simulated/ }).waitFor()
    expect(await page.getByRole('button', { name: 'The dog stands square' }).count()).toBe(0)
    await page.getByText('sway now', { exact: false }).waitFor({ timeout: 30_000 })
    await page.getByRole('button', { name: 'Stop and store' }).click()
    await page.waitForURL(/\/sessions\//, { timeout: 60_000 })
    await page.context().close()
  })
})
