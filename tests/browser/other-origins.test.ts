import { once } from 'node:events'
import { createServer } from 'node:http'
import type { AddressInfo } from 'node:net'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { addDog, addLiveSession, listeningApp } from '../helpers/build-app.ts'
import { launchChromium } from '../helpers/browser.ts'

let browser: Browser
beforeAll(async () => {
  browser = await launchChromium()
})
afterAll(() => browser.close())

/** What a page elsewhere can do to a server on this computer without being asked. */
interface Attempt {
  readonly victim: string
  readonly dogId: string
  readonly session: string
}

/** An empty page at an address of its own. */
async function pageElsewhere(hostname: string) {
  const server = createServer((_, response) => {
    response.setHeader('content-type', 'text/html')
    response.end('<!doctype html><title>Elsewhere</title>')
  }).listen(0, '127.0.0.1')
  await once(server, 'listening')
  onTestFinished(() => void server.close())
  const context = await browser.newContext()
  onTestFinished(() => context.close())
  const page = await context.newPage()
  await page.goto(`http://${hostname}:${(server.address() as AddressInfo).port}/`)
  return page
}

// Another port of the same name is another origin of the same site; another name is another site.
describe.each([
  ['another site', 'localhost'],
  ['another origin of the same site', '127.0.0.1'],
])('a page of %s', (_, hostname) => {
  it('changes nothing by forms, fetches, pictures, scripts and frames, reads nothing, opens no socket', async () => {
    const { app, url } = await listeningApp()
    const dogId = await addDog(app)
    const session = await addLiveSession(app, dogId)
    const answered: string[] = []
    app.server.on('request', ({ method, url: path }, response) => {
      response.on('finish', () => answered.push(`${method} ${path} ${response.statusCode}`))
    })
    const page = await pageElsewhere(hostname)
    const attempt: Attempt = { victim: url, dogId, session }

    const fetched = await page.evaluate(async ({ victim, dogId }) => {
      const tried = async (path: string, init: RequestInit) =>
        fetch(victim + path, { credentials: 'include', ...init }).then(
          async (response) => `${response.type} ${await response.text()}`,
          () => 'failed',
        )
      const json = { method: 'POST', body: '{"name":"Mallow"}' }
      return {
        simple: await tried('/api/dogs', {
          ...json,
          mode: 'no-cors',
          headers: { 'content-type': 'text/plain' },
        }),
        preflighted: await tried('/api/dogs', { ...json, headers: { 'content-type': 'application/json' } }),
        deleted: await tried(`/api/dogs/${dogId}`, { method: 'DELETE' }),
        read: await tried('/api/dogs', {}),
        readBlind: await tried('/api/dogs', { mode: 'no-cors' }),
      }
    }, attempt)
    expect(fetched).toEqual({
      simple: expect.stringMatching(/^(opaque |failed)$/),
      preflighted: 'failed',
      deleted: 'failed',
      read: 'failed',
      readBlind: expect.stringMatching(/^(opaque |failed)$/),
    })

    await page.evaluate(async ({ victim, dogId }) => {
      const loaded = (element: HTMLElement & { src: string }, src: string) =>
        new Promise<void>((resolve) => {
          element.onerror = element.onload = () => resolve()
          element.src = src
          document.body.append(element)
        })
      await loaded(document.createElement('img'), `${victim}/api/dogs/${dogId}/export.zip`)
      await loaded(document.createElement('script'), `${victim}/api/dogs`)
      await loaded(document.createElement('iframe'), `${victim}/`)
      for (const type of ['application/x-www-form-urlencoded', 'multipart/form-data', 'text/plain']) {
        const frame = document.createElement('iframe')
        frame.name = `frame-${type}`
        const form = document.createElement('form')
        Object.assign(form, {
          action: `${victim}/api/dogs`,
          method: 'post',
          enctype: type,
          target: frame.name,
        })
        form.innerHTML = '<input name=\'{"name":"Mallow","x":"\' value=\'"}\'>'
        document.body.append(frame, form)
        await new Promise<void>((resolve) => {
          frame.onload = () => resolve()
          form.submit()
        })
      }
    }, attempt)

    const sockets = await page.evaluate(
      ({ victim, session }) =>
        Promise.all(
          ['send', `watch?session=${session}`].map(
            (path) =>
              new Promise<string>((resolve) => {
                const socket = new WebSocket(`${victim.replace('http', 'ws')}/api/live/${path}`)
                socket.onopen = () => resolve('opened')
                socket.onerror = () => resolve('refused')
              }),
          ),
        ),
      attempt,
    )
    expect(sockets).toEqual(['refused', 'refused'])

    expect((await app.store.records.dogs()).map(({ id }) => id)).toEqual([dogId])
    await expect.poll(() => answered.filter((line) => line.startsWith('POST'))).toHaveLength(4)
    // Preflights are asked under OPTIONS, which nothing answers; everything else is refused as what it is.
    expect(answered.filter((line) => !line.endsWith(' 403'))).toEqual([])
    expect(answered).toContain(`GET /api/dogs/${dogId}/export.zip 403`)
  })

  it('may link to a page here, and cannot reach into it', async () => {
    const { url } = await listeningApp()
    const page = await pageElsewhere(hostname)
    const popup = page.context().waitForEvent('page')
    await page.evaluate((victim) => void Object.assign(window, { shown: window.open(`${victim}/`) }), url)
    const opened = await popup
    await opened.getByRole('heading', { level: 1 }).waitFor()
    // Cross-Origin-Opener-Policy: neither knows the other.
    expect(await opened.evaluate(() => window.opener === null)).toBe(true)
    expect(await page.evaluate(() => (window as unknown as { shown: Window }).shown.closed)).toBe(true)
  })
})
