import { readFile } from 'node:fs/promises'
import { expect, it } from 'vitest'
import { SOFTWARE_VERSION } from '#server/software-version'
import { allRows } from '../helpers/all-rows.ts'
import { exportedZip, importZip, jsonOf, unzipped } from '../helpers/archive.ts'
import type { Files } from '../helpers/archive.ts'
import { call, listeningApp, temporaryDir, testApp } from '../helpers/build-app.ts'
import type { App } from '#server/app'
import { madeDog } from './made-dog.ts'
import { storedSamples } from '../helpers/stored-samples.ts'

const IMPORT_ROW = { actor: 'this computer', action: 'dog.imported' }

/** What is compared: all files but the audit row of the import and the times of the manifest. */
function comparable(files: Files): Record<string, unknown> {
  const manifest = jsonOf(files, 'manifest.json')
  delete manifest.exportedAt
  // The audit differs by the row the import adds, which is looked at on its own.
  manifest.files = manifest.files.filter(({ path }: { path: string }) => path !== 'audit.json')
  const contents = [...files].map(([path, content]) => [path, content.toString('base64')])
  return { ...Object.fromEntries(contents), 'audit.json': null, 'manifest.json': manifest }
}

async function answers(app: App, dogId: string) {
  const get = async (url: string) => (await call(app, { method: 'GET', url })).json()
  const { sessions } = await get(`/api/sessions?dogId=${dogId}&limit=500`)
  const given: Record<string, unknown> = {
    dog: await get(`/api/dogs/${dogId}`),
    plans: await get(`/api/dogs/${dogId}/plans`),
    sessions,
  }
  for (const { id } of sessions as { id: string }[]) {
    for (const what of ['', '/report', '/timeline', '/holds/0', '/marks', '/edits', '/repetition-notes']) {
      given[`${id}${what}`] = await get(`/api/sessions/${id}${what}`)
    }
    for (const file of ['trace.csv', 'trace.edf']) {
      const answer = await call(app, { method: 'GET', url: `/api/sessions/${id}/${file}` })
      given[`${id}/${file}`] = answer.rawPayload.toString('base64')
    }
  }
  return given
}

it('an archive brought into an empty server is the same dog, row by row, answer by answer, file by file', async () => {
  const [fromDir, toDir] = [await temporaryDir(), await temporaryDir()]
  const from = await listeningApp({ dataDir: fromDir })
  const dogId = await madeDog(from)
  const zip = await exportedZip(from.app, dogId)

  const to = await testApp({ dataDir: toDir })
  const answer = await importZip(to, zip)
  expect(answer.json()).toMatchObject({ dog: { id: dogId }, sessions: 3, analysedAgain: 0 })
  expect(answer.statusCode).toBe(201)

  const [before, after] = [await allRows(fromDir), await allRows(toDir)]
  expect(after.audit.at(-1)).toMatchObject(IMPORT_ROW)
  expect(after.audit.slice(0, -1)).toEqual(before.audit)
  expect({ ...after, audit: [] }).toEqual({ ...before, audit: [] })
  expect(Object.keys(before)).toContain('lost_ranges')
  for (const { id } of before.streams) {
    expect(await storedSamples(to.store, id as string)).toEqual(
      await storedSamples(from.app.store, id as string),
    )
    expect(await to.store.series.arrivals(id as string)).toEqual(
      await from.app.store.series.arrivals(id as string),
    )
  }
  expect(await answers(to, dogId)).toEqual(await answers(from.app, dogId))
  expect(comparable(await unzipped(await exportedZip(to, dogId)))).toEqual(comparable(await unzipped(zip)))
}, 180_000)

it('the manifest names the version of the package', async () => {
  const { version } = JSON.parse(await readFile(new URL('../../package.json', import.meta.url), 'utf8'))
  expect(SOFTWARE_VERSION).toBe(version)
})
