import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { CountedPerson } from '../helpers/keystroke-level.ts'

const use = browserAndServer()

/** Two minutes. */
const MOST_S = 120
/** Silent reading of English non-fiction, words a minute: Brysbaert 2019, J. Mem. Lang. 109:104047, from memory. */
const READING_WPM = 238

/** For whoever reads the run. */
const tell = (line: string) => void process.stdout.write(`${line}\n`)

const heading = (page: Page, name: string | RegExp) => page.getByRole('heading', { level: 1, name }).waitFor()
const button = (page: Page, name: string) => page.getByRole('button', { name, exact: true })
/** Words on the screen as it is, header and steps included. */
const wordsOf = (page: Page) =>
  page.locator('body').evaluate((body) => (body as HTMLElement).innerText.split(/\s+/).filter(Boolean).length)

async function clean(page: Page, name: string) {
  for (const scheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme: scheme })
    await keepPicture(page, `${name}-${scheme}`)
    expect(await fitsWidth(page), name).toBe(true)
    expect(await accessibilityFaults(page), name).toEqual([])
  }
}

async function dogNamed(name: string) {
  const dogs = (await (await fetch(`${use.server.url}/api/dogs`)).json()) as {
    id: string
    name: string
    breed: string | null
    weightKg: number | null
    version: number
  }[]
  return dogs.find((dog) => dog.name === name)!
}

/** On the first screen, whether there are dogs already or not. */
const setUpLink = (page: Page) => page.getByRole('link', { name: /^Set up (a|another) dog$/ })

describe('setting up a dog, counted by the keystroke-level model', () => {
  it('takes under two minutes by pointer with the name alone', async () => {
    const { page, complaints } = await openPage(use.browser, 1280)
    await page.goto(use.server.url)
    const person = new CountedPerson(page, 'mouse')
    let words = 0
    await setUpLink(page).waitFor()
    words += await wordsOf(page)
    await person.click(setUpLink(page))
    await heading(page, 'Set up a dog')
    words += await wordsOf(page)
    await person.type('Clover')
    await person.command('Enter')
    await heading(page, 'The plan for Clover')
    await person.click(page.getByRole('radio', { name: /Not yet/ }))
    words += await wordsOf(page)
    await person.click(button(page, 'Go on'))
    await heading(page, 'A sensor for Clover')
    words += await wordsOf(page)
    await person.click(button(page, 'Decide later, go on'))
    await heading(page, 'Ready for the first session with Clover')
    words += await wordsOf(page)
    await person.click(page.getByRole('checkbox', { name: /vet approves/ }))
    await person.click(page.getByRole('link', { name: 'Before you start' }))
    await heading(page, 'Before you start with Clover')

    const readingS = (words / READING_WPM) * 60
    tell(`set-up, name only: ${JSON.stringify(person.count)} ${person.seconds.toFixed(1)} s`)
    // Told, not asserted: the model leaves reading out, and nobody reads every word of five screens.
    tell(`words on its screens: ${words}, ${readingS.toFixed(0)} s to read every one`)
    // Six letters and Enter are typed: the count is of real inputs, or it would be less.
    expect(person.count.keystroke).toBeGreaterThanOrEqual(7)
    expect(person.seconds).toBeLessThan(MOST_S)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('takes under two minutes by keyboard with every field and the plan filled in', async () => {
    const { page, complaints } = await openPage(use.browser, 1280)
    await page.goto(use.server.url)
    const person = new CountedPerson(page, 'keyboard')
    const fill = async (label: string | RegExp, text: string) => {
      await person.tabTo(page.getByLabel(label))
      await person.type(text)
    }
    await setUpLink(page).waitFor()
    await person.tabTo(setUpLink(page))
    await person.command('Enter')
    await heading(page, 'Set up a dog')
    await fill(/^Name/, 'Thistle')
    await fill('Breed', 'Lurcher')
    await fill('Weight, kg', '27')
    await fill('Height at the withers, cm', '68')
    await fill('Born in the year', '2016')
    await person.command('Enter')
    await heading(page, 'The plan for Thistle')
    await person.tabTo(page.getByRole('radio', { name: /Yes/ }))
    await person.command('Space')
    await fill(/^Exercise/, 'stand on foam pad')
    await fill(/^Surface/, 'foam pad, 8 cm')
    await fill('Hold target, s', '8')
    await fill('Repetitions', '3')
    await fill('Session up to, min', '5')
    await fill(/^Who set it/, 'Rowan Vale')
    await person.command('Enter')
    await heading(page, 'A sensor for Thistle')
    await person.tabTo(page.getByRole('radio').first())
    // An arrow chooses within a group: phone, Bluetooth, file.
    await person.command('ArrowDown')
    await person.command('Enter')
    await heading(page, 'Ready for the first session with Thistle')
    await person.tabTo(page.getByRole('checkbox', { name: /vet approves/ }))
    await person.command('Space')
    await person.tabTo(page.getByRole('link', { name: 'Before you start' }))
    await person.command('Enter')
    await heading(page, 'Before you start with Thistle')

    tell(`set-up, everything: ${JSON.stringify(person.count)} ${person.seconds.toFixed(1)} s`)
    expect(person.seconds).toBeLessThan(MOST_S)
    const { id, breed, weightKg } = await dogNamed('Thistle')
    expect({ breed, weightKg }).toEqual({ breed: 'Lurcher', weightKg: 27 })
    const plan = (await (await fetch(`${use.server.url}/api/dogs/${id}/plan`)).json()) as object
    expect(plan).toMatchObject({
      version: 1,
      setBy: 'Rowan Vale',
      sessionCapS: 300,
      exercises: [{ setUp: { exercise: 'stand on foam pad' }, holdTargetS: 8, repetitions: 3 }],
    })
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('demands the name and nothing else', async () => {
    const { page } = await openPage(use.browser, 390)
    await page.goto(`${use.server.url}/set-up`)
    await page.getByLabel('Name').waitFor()
    const required = await page.locator('main :required').evaluateAll((inputs) => inputs.length)
    expect(required).toBe(1)
    await page.getByRole('button', { name: 'Save and go on' }).click()
    await heading(page, 'Set up a dog')
    await page.context().close()
  })
})

describe.each(WIDTHS)('setting up a dog at %i px', (width) => {
  it('every step is clean, can be left and come back to, and a reload loses nothing', async () => {
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(use.server.url)
    await setUpLink(page).waitFor()
    await clean(page, `home-${width}`)
    await setUpLink(page).click()
    await page.getByLabel('Name').fill(`Sedge ${width}`)
    await page.getByLabel('Breed').fill('Collie')
    await clean(page, `set-up-dog-${width}`)
    await page.reload()
    expect(await page.getByLabel('Name').inputValue()).toBe(`Sedge ${width}`)
    await page.goBack()
    await setUpLink(page).click()
    expect(await page.getByLabel('Breed').inputValue()).toBe('Collie')
    await button(page, 'Save and go on').click()

    await heading(page, `The plan for Sedge ${width}`)
    await clean(page, `set-up-plan-asked-${width}`)
    await page.getByRole('radio', { name: /Yes/ }).check()
    await page.getByLabel('Surface').fill('foam pad')
    await clean(page, `set-up-plan-${width}`)
    await page.reload()
    expect(await page.getByLabel('Surface').inputValue()).toBe('foam pad')
    // Swaybook proposes no numbers.
    for (const label of ['Hold target, s', 'Repetitions', 'Session up to, min']) {
      expect(await page.getByLabel(label).inputValue()).toBe('')
    }

    // Back leads to this dog, not to a form that would make it once more.
    await page.goBack()
    await heading(page, `About Sedge ${width}`)
    expect(await page.getByLabel('Breed').inputValue()).toBe('Collie')
    await page.goForward()
    await heading(page, `The plan for Sedge ${width}`)
    await page.getByRole('radio', { name: /Not yet/ }).check()
    await button(page, 'Go on').click()
    await heading(page, `A sensor for Sedge ${width}`)
    await clean(page, `set-up-sensor-${width}`)
    await page.getByRole('radio', { name: /writes files/ }).check()
    await button(page, 'Go on').click()
    await heading(page, `Ready for the first session with Sedge ${width}`)
    // Not pre-ticked, and nothing to record before it is said.
    expect(await page.getByRole('checkbox').isChecked()).toBe(false)
    expect(await page.getByRole('link', { name: 'Add the first trace' }).count()).toBe(0)
    await clean(page, `set-up-ready-asked-${width}`)
    await page.getByRole('checkbox').check()
    await clean(page, `set-up-ready-${width}`)
    await page.reload()
    expect(await page.getByRole('checkbox').isChecked()).toBe(true)
    await page.getByRole('link', { name: 'Add the first trace' }).click()
    await heading(page, /^Add traces/)

    // Left in the middle, the first screen leads back.
    await page.goto(use.server.url)
    await page.getByRole('link', { name: `Go on setting up Sedge ${width}` }).click()
    await heading(page, `The plan for Sedge ${width}`)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('a change made elsewhere meanwhile is told, and neither is lost', async () => {
    const made = await fetch(`${use.server.url}/api/dogs`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ name: `Reed ${width}`, breed: 'Whippet' }),
    })
    const { id } = (await made.json()) as { id: string }
    const { page } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/dogs/${id}`)
    await button(page, `Edit Reed ${width}`).click()
    await page.getByLabel('Weight, kg').fill('14')
    const other = await fetch(`${use.server.url}/api/dogs/${id}`, {
      method: 'PATCH',
      headers: { 'content-type': 'application/json', 'if-match': '"1"' },
      body: JSON.stringify({ breed: 'Lurcher' }),
    })
    expect(other.status).toBe(200)
    await button(page, 'Save').click()
    await page.getByText('was changed elsewhere while you were writing: breed').waitFor()
    await clean(page, `dog-conflict-${width}`)
    await button(page, 'Save').click()
    await button(page, `Edit Reed ${width}`).waitFor()
    expect(await dogNamed(`Reed ${width}`)).toMatchObject({ breed: 'Lurcher', weightKg: 14 })
    await page.context().close()
  })

  it('without the server it says what is kept, and goes on when the server is back', async () => {
    const { page } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/set-up`)
    await page.getByLabel('Name').fill(`Teasel ${width}`)
    await page.context().setOffline(true)
    await button(page, 'Save and go on').click()
    await page.getByText('What you typed is kept in this browser').waitFor()
    await clean(page, `set-up-offline-${width}`)
    await page.context().setOffline(false)
    await button(page, 'Save and go on').click()
    await heading(page, `The plan for Teasel ${width}`)
    await page.context().close()
  })
})
