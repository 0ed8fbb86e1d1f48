import { readFile } from 'node:fs/promises'
import { isDeepStrictEqual } from 'node:util'
import Papa from 'papaparse'
import { expect, it } from 'vitest'
import type { Bundle, Observation } from '#server/export/fhir/resources'
import { SOFTWARE_VERSION } from '#server/software-version'
import { TREND_MEASURES } from '#signal/trend/measures'
import { allRows, columnsWithoutContent } from '../helpers/all-rows.ts'
import { exportedZip, importZip, jsonOf, unzipped } from '../helpers/archive.ts'
import type { Files } from '../helpers/archive.ts'
import { call, listeningApp, temporaryDir, testApp } from '../helpers/build-app.ts'
import type { App } from '#server/app'
import { fullDog, PLANTED } from './full-dog.ts'
import { storedSamples } from '../helpers/stored-samples.ts'

const IMPORT_ROW = { actor: 'this computer', action: 'dog.imported' }

/** What is of the moment of the export, and what the import adds. */
function comparable(files: Files): Record<string, unknown> {
  const manifest = jsonOf(files, 'manifest.json')
  delete manifest.exportedAt
  const added = jsonOf(files, 'audit.json').findIndex(
    ({ action }: { action: string }) => action === IMPORT_ROW.action,
  )
  const audit = jsonOf(files, 'audit.json').slice(0, added < 0 ? undefined : added)
  manifest.files = manifest.files.filter(({ path }: { path: string }) => path !== 'audit.json')
  const contents = [...files].map(([path, content]) => [path, content.toString('base64')])
  return { ...Object.fromEntries(contents), 'audit.json': audit, 'manifest.json': manifest }
}

/** Everything the API tells of a dog, by its address. */
async function answers(app: App, dogId: string): Promise<Record<string, unknown>> {
  const given: Record<string, unknown> = {}
  const ask = async (url: string) => {
    const answer = await call(app, { method: 'GET', url })
    const { etag } = answer.headers
    const isProblem = String(answer.headers['content-type']).startsWith('application/problem+json')
    // A problem names the request it answers.
    const body = isProblem
      ? { ...answer.json<object>(), requestId: null }
      : answer.rawPayload.toString('base64')
    given[url] = { status: answer.statusCode, etag, body }
    return answer
  }
  const dog = `/api/dogs/${dogId}`
  for (const what of ['', '/plan', '/plans', '/diary', '/trend-settings', '/dose?timeZone=UTC&weeks=520']) {
    expect((await ask(`${dog}${what}`)).statusCode, what).toBe(200)
  }
  for (const measure of Object.keys(TREND_MEASURES)) {
    expect((await ask(`${dog}/trends?measure=${measure}`)).json().lines.length).toBeGreaterThan(0)
    await ask(`${dog}/trends.csv?measure=${measure}`)
  }
  const audit = (await call(app, { url: `${dog}/audit?limit=500` })).json()
  given.audit = audit.entries.filter(({ action }: { action: string }) => action !== IMPORT_ROW.action)
  // The bundle is of a moment; what is in it is not.
  given.fhir = (await call(app, { url: `${dog}/fhir.json` })).json().entry
  const { sessions } = (await ask(`/api/sessions?dogId=${dogId}&limit=500`)).json()
  for (const { id } of sessions as { id: string }[]) {
    const session = `/api/sessions/${id}`
    for (const what of [
      '',
      '/timeline',
      '/marks',
      '/edits',
      '/repetition-notes',
      '/trace.csv',
      '/trace.edf',
    ]) {
      await ask(`${session}${what}`)
    }
    const report = await ask(`${session}/report`)
    const holds = report.statusCode === 200 ? report.json().holds.length : 0
    for (let i = 0; i < holds; i++) expect((await ask(`${session}/holds/${i}`)).statusCode).toBe(200)
  }
  return given
}

/** Keys whose values differ: short enough to be read, unlike what they hold. */
function differing(a: Record<string, unknown>, b: Record<string, unknown>): string[] {
  return [...new Set([...Object.keys(a), ...Object.keys(b)])].filter(
    (key) => !isDeepStrictEqual(a[key], b[key]),
  )
}

it('an archive brought into an empty server is the same dog, row by row, answer by answer, file by file', async () => {
  const [fromDir, toDir] = [await temporaryDir(), await temporaryDir()]
  const from = await listeningApp({ dataDir: fromDir })
  const { dogId, sessions } = await fullDog(from)
  // A table or column that is new, and that nothing here fills, could be forgotten on its way out unseen.
  expect(columnsWithoutContent(fromDir)).toEqual([])
  const before = await allRows(fromDir)
  const rowOf = (table: string, key: string, id: string) => before[table].find((row) => row[key] === id)!
  expect(rowOf('sessions', 'id', sessions.live).time_scale).toBeCloseTo(1.00015, 6)
  expect(rowOf('sessions', 'id', sessions.restless)).toMatchObject({ state: 'finished', holds: 0 })
  expect(rowOf('sessions', 'id', sessions.short)).toMatchObject({ state: 'failed' })
  expect(rowOf('streams', 'session_id', sessions.foam).columns).toBe('t,ax,ay,az,gx,gy,gz')
  expect(before.streams.some((row) => row.session_id === sessions.empty)).toBe(false)
  expect(before.lost_ranges).toHaveLength(2)
  const zip = await exportedZip(from.app, dogId)

  const to = await testApp({ dataDir: toDir })
  // What finds nothing missing above finds everything missing here.
  expect(columnsWithoutContent(toDir)).toEqual(Object.keys(before).concat('sample_blocks').sort())
  const answer = await importZip(to, zip)
  expect(answer.json()).toMatchObject({ dog: { id: dogId }, sessions: 6, analysedAgain: 0 })
  expect(answer.statusCode).toBe(201)

  const after = await allRows(toDir)
  expect(after.audit.at(-1)).toMatchObject(IMPORT_ROW)
  expect(after.audit.slice(0, -1)).toEqual(before.audit)
  expect({ ...after, audit: [] }).toEqual({ ...before, audit: [] })
  expect(JSON.stringify(after.hold_edits)).toContain(PLANTED)
  for (const { id } of before.streams) {
    expect(await storedSamples(to.store, id as string)).toEqual(
      await storedSamples(from.app.store, id as string),
    )
    expect(await to.store.series.arrivals(id as string)).toEqual(
      await from.app.store.series.arrivals(id as string),
    )
  }
  expect(differing(await answers(to, dogId), await answers(from.app, dogId))).toEqual([])
  const [again, first] = [await unzipped(await exportedZip(to, dogId)), await unzipped(zip)]
  expect([...again.keys()]).toEqual([...first.keys()])
  expect(differing(comparable(again), comparable(first))).toEqual([])
}, 180_000)

it('tables and FHIR say which numbers rest on holds that a person set or left out', async () => {
  const server = await listeningApp()
  const { dogId, sessions } = await fullDog(server)
  const table = (await unzipped(await exportedZip(server.app, dogId))).get('sessions.csv')!.toString()
  const rows = Papa.parse<Record<string, string>>(table, { header: true, skipEmptyLines: true }).data
  const told = (name: keyof typeof sessions) => {
    const row = rows.find(({ session_id }) => session_id === sessions[name])!
    return [row.holds_set_by_a_person, row.holds_left_out_by_a_person]
  }
  // As full-dog.ts corrects them: two set in each, a third one left out where there is one.
  expect(told('foam')).toEqual(['2', '0'])
  expect(told('live')).toEqual(['2', '1'])
  expect(told('phone')).toEqual(['0', '0'])
  expect(told('empty')).toEqual(['', ''])

  const bundle = (await call(server.app, { url: `/api/dogs/${dogId}/fhir.json` })).json<Bundle>()
  const bestHold = (id: string) =>
    bundle.entry
      .map(({ resource }) => resource)
      .find((resource) => resource.identifier[0].value === `${id}/best-hold`) as Observation
  const notes = (id: string) => bestHold(id).note?.map(({ text }) => text) ?? []
  expect(bestHold(sessions.live).status).toBe('amended')
  expect(notes(sessions.live)).toEqual(
    expect.arrayContaining(['Holds whose bounds a person set: 2.', 'Holds left out by a person: 1.']),
  )
  expect(bestHold(sessions.phone).status).toBe('final')
  expect(notes(sessions.phone).join()).not.toContain('person')
}, 180_000)

it('the manifest names the version of the package', async () => {
  const { version } = JSON.parse(await readFile(new URL('../../package.json', import.meta.url), 'utf8'))
  expect(SOFTWARE_VERSION).toBe(version)
})
