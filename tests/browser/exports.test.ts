import { readFile } from 'node:fs/promises'
import { describe, expect, it } from 'vitest'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'

const use = browserAndServer()

const trace = new URL('../../sample-traces/quiet-stand.csv', import.meta.url)

/** A dog with one session, through the API. */
async function dogWithSession(name: string): Promise<string> {
  const { url } = use.server
  const made = await fetch(`${url}/api/dogs`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ name }),
  })
  const { id } = (await made.json()) as { id: string }
  const form = new FormData()
  form.set('file', new Blob([await readFile(trace)]), 'quiet-stand.csv')
  expect((await fetch(`${url}/api/dogs/${id}/traces`, { method: 'POST', body: form })).status).toBe(201)
  return id
}

describe.each(WIDTHS)('a dog’s data at %i px', (width) => {
  it('is saved as ZIP, deleted, and brought back from that ZIP; a wrong ZIP is told of beside it', async () => {
    const { page, complaints } = await openPage(use.browser, width)
    const name = `Bramble ${width}`
    const id = await dogWithSession(name)
    await page.goto(`${use.server.url}/dogs/${id}`)
    const saved = page.waitForEvent('download')
    await page.getByRole('link', { name: 'Save everything as ZIP' }).click()
    const download = await saved
    expect(download.suggestedFilename()).toMatch(new RegExp(`^swaybook-${id}-\\d{4}-\\d{2}-\\d{2}\\.zip$`))
    const zip = await readFile(await download.path())
    expect(zip.subarray(0, 4).toString('latin1')).toBe('PK\x03\x04')

    await page.getByText('Single recordings (1)').click()
    expect(await accessibilityFaults(page)).toEqual([])
    expect(await fitsWidth(page)).toBe(true)
    await keepPicture(page, `dog-data-${width}`)

    await page.getByRole('button', { name: `Delete ${name}` }).click()
    await page.getByRole('button', { name: 'Delete for good' }).click()
    await page.waitForURL(`${use.server.url}/`)

    await page.goto(`${use.server.url}/settings`)
    const choose = page.getByLabel('Choose a ZIP')
    await choose.setInputFiles({ name: 'no.zip', mimeType: 'application/zip', buffer: Buffer.from('no') })
    await page.getByRole('alert').filter({ hasText: 'no.zip was not brought back' }).waitFor()
    await keepPicture(page, `import-refused-${width}`)
    await choose.setInputFiles({ name: 'dog.zip', mimeType: 'application/zip', buffer: zip })
    await page.getByText(`${name} is back, with 1 session.`).waitFor()
    expect(await accessibilityFaults(page)).toEqual([])
    expect(await fitsWidth(page)).toBe(true)
    await page.getByRole('link', { name, exact: true }).click()
    await page.getByRole('heading', { level: 1, name }).waitFor()
    // The browser itself writes a line for the refused ZIP.
    expect(complaints.filter((line) => !/422|409/.test(line))).toEqual([])
  })
})
