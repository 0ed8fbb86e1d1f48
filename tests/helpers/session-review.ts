import { readFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import type { Locator, Page } from 'playwright-core'
import type { SessionSummary } from '#protocol/resources'
import type { StoredSessionEdits } from '#protocol/session-review'
import type { Report } from '#signal/report-types'

const samples = fileURLToPath(new URL('../../sample-traces/', import.meta.url))

/** A dog with one session per trace, all on the same set-up. */
export async function sessionsOf(url: string, name: string, traces: readonly string[]) {
  const files = traces.map(async (trace) => ({ name: trace, data: await readFile(samples + trace) }))
  return sessionsOfFiles(url, name, await Promise.all(files))
}

/** The same for traces that are made where they are needed. */
export async function sessionsOfFiles(
  url: string,
  name: string,
  files: readonly { readonly name: string; readonly data: Uint8Array<ArrayBuffer> | string }[],
  surface = 'foam pad',
) {
  const dog = (await (
    await fetch(`${url}/api/dogs`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ name }),
    })
  ).json()) as { id: string }
  const sessions: SessionSummary[] = []
  for (const file of files) {
    const form = new FormData()
    form.set('exercise', `stand on ${surface}`)
    form.set('surface', surface)
    form.set('file', new Blob([file.data]), file.name)
    const answer = await fetch(`${url}/api/dogs/${dog.id}/traces`, { method: 'POST', body: form })
    if (!answer.ok) throw new Error(await answer.text())
    sessions.push((await answer.json()) as SessionSummary)
  }
  return sessions
}

/** What the server has of a session. */
export const stored = (url: string, sessionId: string) => ({
  edits: async () =>
    (await (await fetch(`${url}/api/sessions/${sessionId}/edits`)).json()) as StoredSessionEdits,
  report: async () => (await (await fetch(`${url}/api/sessions/${sessionId}/report`)).json()) as Report,
  summary: async () => (await (await fetch(`${url}/api/sessions/${sessionId}`)).json()) as SessionSummary,
})

/** The lanes under the picture of motion, once they can be used. */
export async function openReview(page: Page, url: string, sessionId: string): Promise<Locator> {
  await page.goto(`${url}/sessions/${sessionId}`)
  const lanes = page.getByRole('listbox', { name: 'Marks and edges of holds' })
  await lanes.getByRole('option').first().waitFor({ state: 'attached' })
  await page.locator('main canvas').first().waitFor()
  await lanes.scrollIntoViewIfNeeded()
  return lanes
}

/** The place of one thing in the lanes on the page, px. */
export async function placeOf(lanes: Locator, words: RegExp): Promise<{ x: number; y: number }> {
  const box = await lanes.getByRole('option', { name: words }).first().locator('rect').boundingBox()
  if (!box) throw new Error(`${words} is not to be seen`)
  return { x: box.x + box.width / 2, y: box.y + box.height / 2 }
}

export const isSaved = (page: Page) => page.getByText('Everything is saved.').waitFor()
