import { readFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'

const use = browserAndServer()

/** A dog with two stored sessions on one set-up. */
async function addDogWithSessions(name: string): Promise<string> {
  const json = { 'content-type': 'application/json' }
  const body = JSON.stringify({ name, breed: 'Lurcher', weightKg: 27 })
  const dog = await fetch(`${use.server.url}/api/dogs`, { method: 'POST', headers: json, body })
  const { id } = (await dog.json()) as { id: string }
  for (const file of ['foam-hands-off.csv', 'foam-hand-support.tsv']) {
    const form = new FormData()
    form.set('exercise', 'stand on foam pad')
    form.set('surface', 'foam pad')
    const path = fileURLToPath(new URL(`../../sample-traces/${file}`, import.meta.url))
    form.set('file', new Blob([await readFile(path)]), file)
    const stored = await fetch(`${use.server.url}/api/dogs/${id}/traces`, { method: 'POST', body: form })
    expect(stored.status).toBe(201)
  }
  return id
}

describe.each(WIDTHS)('screens at %i px', (width) => {
  it('home, dog, record and an unknown address are clean, in light and dark', async () => {
    const dogId = await addDogWithSessions(`Yarrow ${width}`)
    const { page, complaints } = await openPage(use.browser, width)
    const screens = [
      ['home', '/'],
      ['dog', `/dogs/${dogId}`],
      ['record', `/dogs/${dogId}/record`],
      ['unknown', '/no/such/place'],
    ]
    for (const scheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme: scheme })
      for (const [name, path] of screens) {
        await page.goto(use.server.url + path)
        await page.getByRole('heading', { level: 1 }).waitFor()
        await page.waitForLoadState('networkidle')
        await keepPicture(page, `${name}-${width}-${scheme}`)
        expect(await fitsWidth(page), name).toBe(true)
        expect(await accessibilityFaults(page), name).toEqual([])
      }
    }
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('the demo is one click away on the first screen, and says that it is invented', async () => {
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(use.server.url)
    await page.getByRole('button', { name: 'Look around with the demo dog' }).click()
    await page.getByRole('heading', { level: 1, name: 'Juniper' }).waitFor()
    await page.getByText('Live now', { exact: false }).first().waitFor({ timeout: 30_000 })
    expect(await page.getByText('Invented', { exact: false }).count()).toBeGreaterThan(0)
    expect(complaints).toEqual([])
    const { id } = (await (await fetch(`${use.server.url}/api/demo`, { method: 'POST' })).json()) as {
      id: string
    }
    expect((await fetch(`${use.server.url}/api/dogs/${id}`, { method: 'DELETE' })).status).toBe(204)
    await page.context().close()
  })
})
