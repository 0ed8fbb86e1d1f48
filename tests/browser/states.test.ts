import { readFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import type { Page, Route } from 'playwright-core'
import { beforeAll, describe, expect, it } from 'vitest'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'

const use = browserAndServer()

/** A dog with a stored session, one without anything. */
const known = { dog: '', session: '', empty: '' }

beforeAll(async () => {
  known.dog = await addDog('Yarrow')
  known.empty = await addDog('Teal')
  const form = new FormData()
  form.set('exercise', 'stand on foam pad')
  form.set('surface', 'foam pad')
  const path = fileURLToPath(new URL('../../sample-traces/foam-hands-off.csv', import.meta.url))
  form.set('file', new Blob([await readFile(path)]), 'foam-hands-off.csv')
  const stored = await fetch(`${use.server.url}/api/dogs/${known.dog}/traces`, { method: 'POST', body: form })
  known.session = ((await stored.json()) as { id: string }).id
})

async function addDog(name: string): Promise<string> {
  const made = await fetch(`${use.server.url}/api/dogs`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ name }),
  })
  return ((await made.json()) as { id: string }).id
}

/** Every address there is; what needs the server says so in the ways below. */
const SCREENS: readonly {
  name: string
  path: (dog: string, session: string) => string
  needsServer: boolean
}[] = [
  { name: 'home', path: () => '/', needsServer: true },
  { name: 'set-up', path: () => '/set-up', needsServer: false },
  { name: 'set-up-plan', path: (dog) => `/set-up/${dog}/plan`, needsServer: true },
  { name: 'dog', path: (dog) => `/dogs/${dog}`, needsServer: true },
  { name: 'add-traces', path: (dog) => `/dogs/${dog}/traces`, needsServer: true },
  { name: 'record', path: (dog) => `/dogs/${dog}/record`, needsServer: true },
  { name: 'plan', path: (dog) => `/dogs/${dog}/plan`, needsServer: true },
  { name: 'trends', path: (dog) => `/dogs/${dog}/trends`, needsServer: true },
  { name: 'diary', path: (dog) => `/dogs/${dog}/diary`, needsServer: true },
  { name: 'report', path: (dog) => `/dogs/${dog}/report`, needsServer: true },
  { name: 'session', path: (_, session) => `/sessions/${session}`, needsServer: true },
  { name: 'numbers', path: () => '/numbers', needsServer: false },
  { name: 'layouts', path: () => '/layouts', needsServer: false },
  { name: 'settings', path: () => '/settings', needsServer: true },
  { name: 'phone', path: () => '/phone', needsServer: false },
  { name: 'dog-people', path: (dog) => `/dogs/${dog}/people`, needsServer: true },
  { name: 'account', path: () => '/account', needsServer: true },
  { name: 'everybody', path: () => '/people', needsServer: true },
  { name: 'sign-in', path: () => '/sign-in', needsServer: true },
  { name: 'join', path: () => '/join', needsServer: false },
  { name: 'shared', path: () => '/shared', needsServer: true },
]

const PROBLEM = {
  type: 'about:blank',
  title: 'Something broke',
  status: 500,
  detail: 'The server met a problem of its own.',
  code: 'INTERNAL',
}

/** How the server fails, and a message that tells it apart. */
const WAYS: Record<string, { answer: (route: Route) => Promise<void>; says: RegExp }> = {
  'fails with a problem document': {
    answer: (route) =>
      route.fulfill({ status: 500, contentType: 'application/problem+json', body: JSON.stringify(PROBLEM) }),
    says: /The server met a problem of its own/,
  },
  'answers with a page of another program': {
    answer: (route) => route.fulfill({ status: 200, contentType: 'text/html', body: '<h1>Router</h1>' }),
    says: /not the Swaybook server/,
  },
  'cannot be reached': {
    answer: (route) => route.abort('connectionrefused'),
    says: /cannot be reached/,
  },
}

/** The browser's own lines about calls that failed; everything else is a complaint of the page. */
const ofTheNetwork = (line: string) => /^Failed to load resource|net::ERR_|WebSocket connection to/.test(line)

async function expectGood(page: Page, complaints: string[], name: string) {
  await keepPicture(page, `state-${name}`)
  expect(await fitsWidth(page), name).toBe(true)
  expect(await accessibilityFaults(page), name).toEqual([])
  expect(
    complaints.filter((line) => !ofTheNetwork(line)),
    name,
  ).toEqual([])
}

/** Something to press or follow within the content: nobody is left in a dead end. */
const waysOn = (page: Page) => page.locator('main').locator('a[href], button:enabled').count()

describe.each(WIDTHS)('states at %i px', (width) => {
  it.each(SCREENS)('$name is clean with records, and for a dog without any', async ({ name, path }) => {
    const { page, complaints } = await openPage(use.browser, width)
    for (const [kind, dog] of [
      ['full', known.dog],
      ['empty', known.empty],
    ]) {
      await page.goto(use.server.url + path(dog, known.session))
      await page.getByRole('heading', { level: 1 }).waitFor()
      await page.waitForLoadState('networkidle')
      await expectGood(page, complaints, `${name}-${kind}-${width}`)
      expect(await waysOn(page), name).toBeGreaterThan(0)
    }
    await page.context().close()
  })

  for (const [way, { answer, says }] of Object.entries(WAYS)) {
    it.each(SCREENS)(`$name says so when the server ${way}`, async ({ name, path, needsServer }) => {
      const { page, complaints } = await openPage(use.browser, width)
      await page.route('**/api/**', answer)
      await page.goto(use.server.url + path(known.dog, known.session))
      await page.getByRole('heading', { level: 1 }).waitFor()
      if (needsServer) await page.getByText(says).first().waitFor()
      await expectGood(page, complaints, `${name}-${way.split(' ')[0]}-${width}`)
      expect(await waysOn(page), name).toBeGreaterThan(0)
      await page.context().close()
    })
  }

  it.each(SCREENS.filter(({ needsServer }) => needsServer))(
    '$name says that it is loading while the server hangs, and offers to ask again',
    async ({ name, path }) => {
      const { page, complaints } = await openPage(use.browser, width)
      await page.route('**/api/**', () => {})
      await page.goto(use.server.url + path(known.dog, known.session))
      await page
        .getByText(/^Loading the/)
        .first()
        .waitFor()
      await page.getByRole('button', { name: 'Ask again' }).first().waitFor({ timeout: 30_000 })
      await expectGood(page, complaints, `${name}-hangs-${width}`)
      await page.context().close()
    },
  )

  it.each([
    ['dog', '/dogs/no-such-dog'],
    ['add-traces', '/dogs/no-such-dog/traces'],
    ['record', '/dogs/no-such-dog/record'],
    ['plan', '/dogs/no-such-dog/plan'],
    ['trends', '/dogs/no-such-dog/trends'],
    ['diary', '/dogs/no-such-dog/diary'],
    ['report', '/dogs/no-such-dog/report'],
    ['set-up', '/set-up/no-such-dog/plan'],
    ['session', '/sessions/no-such-session'],
  ])('%s of something that does not exist says so and leads on', async (name, path) => {
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(use.server.url + path)
    await page.getByRole('heading', { level: 1, name: /could not be found/ }).waitFor()
    await page.getByRole('main').getByRole('link', { name: 'All dogs' }).first().waitFor()
    await expectGood(page, complaints, `${name}-unknown-${width}`)
    await page.context().close()
  })

  it('the hold view of an unknown session says so and leads on', async () => {
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/live/no-such-session`)
    await page.getByText('This session cannot be watched').waitFor()
    await page.getByText('It may have been deleted').waitFor()
    await page.getByRole('main').getByRole('link', { name: 'All dogs' }).waitFor()
    await expectGood(page, complaints, `live-unknown-${width}`)
    await page.context().close()
  })

  it('home recovers by itself when the server answers again', async () => {
    const { page } = await openPage(use.browser, width)
    let down = true
    await page.route('**/api/**', (route) => (down ? route.abort('connectionrefused') : route.continue()))
    await page.goto(use.server.url)
    await page.getByRole('heading', { level: 1, name: 'The dogs could not be loaded' }).waitFor()
    down = false
    await page.getByRole('link', { name: 'Yarrow' }).waitFor({ timeout: 60_000 })
    expect(await page.getByText('could not be loaded').count()).toBe(0)
    await page.context().close()
  })

  it('a dog that is deleted while its page is open goes, with a word', async () => {
    const id = await addDog(`Vetch ${width}`)
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/dogs/${id}`)
    await page.getByRole('heading', { level: 1, name: `Vetch ${width}` }).waitFor()
    expect((await fetch(`${use.server.url}/api/dogs/${id}`, { method: 'DELETE' })).status).toBe(204)
    // The page looks every eight seconds.
    await page
      .getByRole('heading', { name: /could not be found/ })
      .first()
      .waitFor({ timeout: 60_000 })
    await expectGood(page, complaints, `dog-deleted-${width}`)
    await page.context().close()
  })

  it('the first screen without any dog offers both ways in', async () => {
    const { page, complaints } = await openPage(use.browser, width)
    await page.route('**/api/dogs', (route) => route.fulfill({ json: [] }))
    await page.goto(use.server.url)
    await page.getByRole('link', { name: 'Set up a dog' }).waitFor()
    await page.getByRole('button', { name: 'Look around with the demo dog' }).waitFor()
    await expectGood(page, complaints, `home-first-${width}`)
    await page.context().close()
  })
})
