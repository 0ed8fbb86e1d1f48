import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import type { Plan } from '#protocol/resources'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'

const use = browserAndServer()

async function addDog(name: string): Promise<string> {
  const response = await fetch(`${use.server.url}/api/dogs`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ name }),
  })
  return ((await response.json()) as { id: string }).id
}

const planOf = async (dogId: string) =>
  (await (await fetch(`${use.server.url}/api/dogs/${dogId}/plan`)).json()) as Plan

async function expectClean(page: Page, name: string) {
  for (const scheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme: scheme })
    await keepPicture(page, `${name}-${scheme}`)
    expect(await fitsWidth(page), name).toBe(true)
    expect(await accessibilityFaults(page), name).toEqual([])
  }
}

const field = (page: Page, name: string) =>
  page.getByRole('textbox', { name }).or(page.getByRole('spinbutton', { name })).first()

/** Fills in the first plan with the keyboard: typing, Tab and Enter only. */
async function writeFirstPlan(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'Write the first plan' }).focus()
  await page.keyboard.press('Enter')
  const type = async (label: string, text: string) => {
    await field(page, label).focus()
    await page.keyboard.press('ControlOrMeta+a')
    await page.keyboard.type(text)
  }
  await type('Exercise', 'stand on foam pad')
  await type('Surface', 'foam pad, 8 cm')
  await type('Fore to hind paws, cm', '45')
  await type('Left to right paws, cm', '20')
  await type('Height above the floor, cm', '8')
  await page.getByLabel('Firmness').selectOption('soft')
  await page.getByLabel('Does it give or tip under the paws?').selectOption('yes, it is unstable')
  await type('Hold target, s', '8')
  await type('Vet or therapist', 'Rowan Vale')
}

describe.each(WIDTHS)('plan at %i px', (width) => {
  it('is written, kept as a version and changed, with earlier versions left as they were', async () => {
    const dogId = await addDog(`Clover ${width}`)
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/dogs/${dogId}/plan`)
    await page.getByText('No plan was given', { exact: false }).waitFor()
    await writeFirstPlan(page)
    await page.getByRole('img', { name: /fore to hind paws 45 cm, left to right 20 cm/ }).waitFor()
    await expectClean(page, `plan-form-${width}`)
    await page.keyboard.press('Enter')
    await page.getByText('Version 1 is kept.').waitFor()
    expect(await planOf(dogId)).toMatchObject({
      version: 1,
      setBy: 'Rowan Vale',
      sessionCapS: 300,
      stopRules: { swayRatio: 1.5, holdRatio: 0.5, supportRise: 0.25 },
      exercises: [
        {
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
        },
      ],
    })
    const { exercises } = await planOf(dogId)

    await page.getByRole('button', { name: 'Change the plan' }).click()
    await field(page, 'Session up to, min').fill('4')
    // An emptied field switches its rule off.
    await field(page, 'Hands-on up by').fill('')
    await page.getByRole('button', { name: 'Save as version 2' }).click()
    await page.getByRole('heading', { name: 'Version 2, the newest' }).waitFor()
    await page.getByText('Now a session up to 4:00; it was a session up to 5:00.').waitFor()
    await page.getByText('Off: the rule about hands-on time.').waitFor()
    const changed = await planOf(dogId)
    expect(changed).toMatchObject({ version: 2, sessionCapS: 240, stopRules: { supportRise: null } })
    // Sessions are counted on across versions by this id.
    expect(changed.exercises[0].id).toBe(exercises[0].id)
    await page.getByText(/^Version 1, Rowan Vale/).click()
    await page.getByText('It allows a session up to 5:00', { exact: false }).waitFor()
    await expectClean(page, `plan-versions-${width}`)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('says clearly that somebody saved another version meanwhile, and loses nothing typed', async () => {
    const dogId = await addDog(`Tansy ${width}`)
    const { page } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/dogs/${dogId}/plan`)
    await writeFirstPlan(page)
    await page.keyboard.press('Enter')
    await page.getByText('Version 1 is kept.').waitFor()
    await page.getByRole('button', { name: 'Change the plan' }).click()
    await field(page, 'Hold target, s').fill('6')

    const { exercises, sessionCapS, daysPerWeek, stopRules, validFrom, notes } = await planOf(dogId)
    const others = { exercises, sessionCapS, daysPerWeek, stopRules, validFrom, notes }
    const other = await fetch(`${use.server.url}/api/dogs/${dogId}/plan`, {
      method: 'PUT',
      headers: { 'content-type': 'application/json', 'if-match': '"1"' },
      body: JSON.stringify({ ...others, sessionsPerDay: 2, setBy: 'Dr Linnet' }),
    })
    expect(other.status).toBe(200)

    await page.getByRole('button', { name: 'Save as version 2' }).click()
    await page.getByText('Version 2 was saved while you were writing').waitFor()
    expect(await field(page, 'Hold target, s').inputValue()).toBe('6')
    await expectClean(page, `plan-conflict-${width}`)
    await page.getByRole('button', { name: 'Save as version 3' }).click()
    await page.getByText('Version 3 is kept.').waitFor()
    expect((await planOf(dogId)).exercises[0].holdTargetS).toBe(6)
    await page.context().close()
  })
})
