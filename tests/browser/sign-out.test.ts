import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { launchChromium } from '../helpers/browser.ts'
import { listeningApp } from '../helpers/build-app.ts'

let browser: Browser
beforeAll(async () => {
  browser = await launchChromium()
})
afterAll(() => browser.close())

// Clear-Site-Data, W3C: "cache" is the network's cache; IndexedDB, Cache Storage and localStorage are "storage".
it('empties the cache of the network, and leaves what is stored for sending', async () => {
  const { url } = await listeningApp()
  const context = await browser.newContext()
  const page = await context.newPage()
  const shell = await (await fetch(url, { headers: { accept: 'text/html' } })).text()
  const asset = /\/assets\/[^"]+\.js/.exec(shell)![0]
  await page.goto(`${url}/api/health`)
  const seen = await page.evaluate(async (asset) => {
    const send = (method: string, path: string, body?: object) =>
      fetch(path, {
        method,
        ...(body && { body: JSON.stringify(body), headers: { 'content-type': 'application/json' } }),
      })
    const kept = () =>
      new Promise<unknown>((resolve, reject) => {
        const opening = indexedDB.open('of-a-test', 1)
        opening.onupgradeneeded = () => opening.result.createObjectStore('samples').put('unsent', 1)
        opening.onerror = () => reject(opening.error!)
        opening.onsuccess = () => {
          const reading = opening.result.transaction('samples').objectStore('samples').get(1)
          reading.onsuccess = () => {
            resolve(reading.result)
            opening.result.close()
          }
        }
      })
    /** Bytes that came over the network; none from the cache (W3C, Resource Timing). */
    const bytesOf = async () => {
      performance.clearResourceTimings()
      await (await fetch(asset)).text()
      return (performance.getEntriesByType('resource').at(-1) as PerformanceResourceTiming).transferSize
    }
    await send('PUT', '/api/me/password', { password: 'four paws on a soft pad', signInName: 'kit' })
    localStorage.setItem('of-a-test', 'stays')
    await (await caches.open('of-a-test')).put('/kept', new Response('stays'))
    const before = [await kept(), await bytesOf(), await bytesOf()]
    const signOut = await send('POST', '/api/sign-out')
    return {
      before,
      status: signOut.status,
      stored: [await kept(), localStorage.getItem('of-a-test'), await caches.has('of-a-test')],
      bytes: await bytesOf(),
      me: (await (await send('GET', '/api/me')).json()) as { person: unknown },
    }
  }, asset)
  expect(seen.before).toEqual(['unsent', expect.any(Number), 0])
  expect(seen).toMatchObject({ status: 204, me: { person: null } })
  expect(seen.stored).toEqual(['unsent', 'stays', true])
  expect(seen.bytes).toBeGreaterThan(0)
  await context.close()
})
