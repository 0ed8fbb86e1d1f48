import { readFile } from 'node:fs/promises'
import type { Page } from 'playwright-core'
import { expect, it } from 'vitest'
import { routeOf } from '../../dashboard/lib/routes.ts'
import { openPage } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'

const use = browserAndServer()

/** Pages keep what the policy stopped. */
async function keepingViolations(page: Page) {
  await page.addInitScript(() => {
    const seen: string[] = []
    Object.assign(window, { violations: seen })
    document.addEventListener('securitypolicyviolation', ({ violatedDirective, blockedURI }) => {
      seen.push(`${violatedDirective} ${blockedURI}`)
    })
  })
}

const violations = (page: Page) =>
  page.evaluate(() => (window as unknown as { violations: string[] }).violations)

async function dogWithSessions() {
  const post = async (path: string, body: object | FormData) => {
    const json = { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }
    const sent = body instanceof FormData ? { body } : json
    const answer = await fetch(use.server.url + path, { method: 'POST', ...sent })
    expect(answer.status, path).toBe(201)
    return (await answer.json()) as { id: string }
  }
  const dog = await post('/api/dogs', { name: 'Teasel' })
  const form = new FormData()
  const trace = new URL('../../sample-traces/foam-hands-off.csv', import.meta.url)
  form.set('file', new Blob([await readFile(trace)]), 'foam-hands-off.csv')
  form.set('exercise', 'stand on foam pad')
  form.set('surface', 'foam pad')
  const session = await post(`/api/dogs/${dog.id}/traces`, form)
  const live = await post('/api/sessions', { dogId: dog.id, sensor: 'simulated harness' })
  return { dogId: dog.id, session: session.id, live: live.id }
}

it('no screen asks for anything the content policy stops', async () => {
  const { dogId, session, live } = await dogWithSessions()
  const screens = [
    '/',
    '/set-up',
    ...['dog', 'plan', 'sensor', 'ready'].map((step) => `/set-up/${dogId}/${step}`),
    `/dogs/${dogId}`,
    ...['traces', 'record', 'plan', 'trends', 'diary', 'report', 'people'].map(
      (part) => `/dogs/${dogId}/${part}`,
    ),
    `/sessions/${session}`,
    `/live/${live}`,
    '/numbers',
    '/layouts',
    '/settings',
    ...['/sign-in', '/account', '/people', '/join', '/shared'],
    '/phone',
    '/no/such/place',
  ]
  // Every screen there is: a new one has to be added here.
  const source = await readFile(new URL('../../dashboard/lib/routes.ts', import.meta.url), 'utf8')
  const declared = source.slice(0, source.indexOf('export const SET_UP_STEPS')).matchAll(/name: '([a-z-]+)'/g)
  const names = new Set([...declared].map(([, name]) => name))
  expect(new Set(screens.map((path) => routeOf(path).name as string))).toEqual(names)

  const { page } = await openPage(use.browser, 1280)
  await keepingViolations(page)
  for (const path of screens) {
    await page.goto(use.server.url + path)
    await page.getByRole('heading', { level: 1 }).waitFor()
    await page.waitForLoadState('load')
    expect([path, ...(await violations(page))]).toEqual([path])
  }
  // Moved by the pointer, a screen draws more: tips, cursors, menus.
  await page.goto(`${use.server.url}/sessions/${session}`)
  for (const drawing of await page.locator('.u-over').all()) {
    const box = await drawing.boundingBox()
    if (box) await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2)
  }
  expect(await violations(page)).toEqual([])
  await page.context().close()
})

it('what somebody brings into a page does not run, load or call home', async () => {
  const { page } = await openPage(use.browser, 1280)
  await keepingViolations(page)
  await page.route('**/assets/probe.js', (route) =>
    route.fulfill({
      contentType: 'text/javascript',
      body: `const { dataset } = document.documentElement
        try { eval('dataset.evaluated = "evaluated"') } catch { dataset.evaluated = 'stopped' }`,
    }),
  )
  await page.goto(use.server.url)
  await page.getByRole('heading', { level: 1 }).waitFor()
  const ran = await page.evaluate(async () => {
    const marked = () => (window as unknown as { pwned?: string[] }).pwned ?? []
    const brought = document.createElement('div')
    document.body.append(brought)
    brought.innerHTML = '<img src="data:," onerror="(window.pwned??=[]).push(\'handler\')">'
    const inline = document.createElement('script')
    inline.textContent = "(window.pwned??=[]).push('inline')"
    const foreign = document.createElement('script')
    foreign.src = 'https://elsewhere.example/x.js'
    const data = document.createElement('script')
    data.src = "data:text/javascript,(window.pwned??=[]).push('data')"
    const style = document.createElement('style')
    style.textContent = 'body { display: none }'
    const frame = document.createElement('iframe')
    frame.src = 'https://elsewhere.example/'
    const base = document.createElement('base')
    base.href = 'https://elsewhere.example/'
    const object = document.createElement('object')
    object.data = '/sw.js'
    document.head.append(inline, foreign, data, style, base)
    brought.append(frame, object)
    const called = await fetch('https://elsewhere.example/', { mode: 'no-cors' }).then(
      () => 'called',
      () => 'stopped',
    )
    // The page's own script, as far as the browser knows: it may run, and still not compile text.
    const own = document.createElement('script')
    own.src = '/assets/probe.js'
    const evaluated = new Promise<string | undefined>((resolve) => {
      own.onload = () => resolve(document.documentElement.dataset.evaluated)
    })
    document.head.append(own)
    const { display } = getComputedStyle(document.body)
    return {
      marked: marked(),
      called,
      evaluated: await evaluated,
      hidden: display === 'none',
      base: document.baseURI,
    }
  })
  expect(ran).toEqual({
    marked: [],
    called: 'stopped',
    evaluated: 'stopped',
    hidden: false,
    base: `${use.server.url}/`,
  })
  const seen = (await violations(page)).map((line) => line.split(' ')[0])
  for (const directive of [
    'script-src-attr',
    'script-src-elem',
    'style-src-elem',
    'frame-src',
    'connect-src',
    'base-uri',
    'object-src',
  ]) {
    expect(seen, directive).toContain(directive)
  }
  await page.context().close()
})
