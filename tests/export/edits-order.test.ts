import { expect, it } from 'vitest'
import type { StoredSessionEdits } from '#protocol/session-review'
import { exportedZip, importZip, jsonOf, unzipped } from '../helpers/archive.ts'
import { addDog, call, listeningApp, testApp } from '../helpers/build-app.ts'
import { change, json } from '../helpers/versioned-calls.ts'
import { liveSession } from './made-dog.ts'

it('corrections that begin together come back in their order, whatever their ids', async () => {
  const from = await listeningApp()
  const dogId = await addDog(from.app)
  const session = await liveSession(from, dogId, { channels: 3, samples: 1200, lost: [] })
  const url = `/api/sessions/${session}/edits`
  const { version, marks } = await json<StoredSessionEdits>(from.app, url)
  const leftOut = (id: string, toS: number) =>
    ({ id, kind: 'leave out', fromS: 1, toS, reason: 'barked' }) as const
  const holds = [leftOut('z', 2), leftOut('a', 3), leftOut('m', 4)]
  expect((await change(from.app, 'PUT', url, version, { marks, holds })).statusCode).toBe(200)
  const before = await json<StoredSessionEdits>(from.app, url)
  expect(before.holds.map(({ id }) => id)).toEqual(['z', 'a', 'm'])

  const zip = await exportedZip(from.app, dogId)
  expect(jsonOf(await unzipped(zip), `sessions/${session}/edits.json`).holds).toEqual(before.holds)
  const to = await testApp()
  expect((await importZip(to, zip)).statusCode).toBe(201)
  expect(await json(to, url)).toEqual(before)
  expect((await call(to, { url })).headers.etag).toBe(`"${before.version}"`)
}, 180_000)
