import { encodeFrame } from '#protocol/frames'
import { parseEdf } from '#signal/trace/edf-read'
import { parseTrace } from '#signal/trace/parse'
import type { UnreadablePart } from '#protocol/unreadable-part'
import type { SessionSummary } from '#protocol/resources'
import { describe, expect, it, vi } from 'vitest'
import { buildApp } from '#server/app'
import { liveSession, sampleTrace } from '../export/made-dog.ts'
import { exportedZip, importZip, jsonOf, unzipped } from '../helpers/archive.ts'
import { addDog, call, listeningApp, temporaryDir, testConfig } from '../helpers/build-app.ts'
import { welcomedSender } from '../helpers/live-client.ts'
import { flipStoredBytes } from '../helpers/flip-stored-bytes.ts'
import type { FlippedBlock } from '../helpers/flip-stored-bytes.ts'
import { parseExposition } from '../operations/exposition.ts'
import { upload } from '../helpers/upload.ts'
import { flipBit, STARTED_AT_US, storeSession } from '../upkeep/stored-data.ts'

vi.setConfig({ testTimeout: 120_000 })

const LIVE = { channels: 3, samples: 14_000, lost: [[700, 40]] } as const

/** A dog with a recorded and an uploaded session that are damaged on the disk, and one that is whole. */
async function damagedDog() {
  const dataDir = await temporaryDir()
  const app = await buildApp(testConfig({ dataDir }))
  await app.listen({ host: '127.0.0.1', port: 0 })
  const port = (app.server.address() as { port: number }).port
  const dogId = await addDog(app)
  const address = { url: `http://127.0.0.1:${port}`, wsUrl: `ws://127.0.0.1:${port}`, app }
  const live = await liveSession(address, dogId, LIVE)
  const uploaded = (await upload(app, dogId, await sampleTrace('foam-hands-off.csv'))).json<{ id: string }>()
    .id
  const whole = (await upload(app, dogId, await sampleTrace('phone.csv'))).json<{ id: string }>().id
  const csvBefore = (await call(app, { url: `/api/sessions/${live}/trace.csv` })).body
  await app.close()
  const inLive = flipStoredBytes(dataDir, live, 1)
  const inUpload = flipStoredBytes(dataDir, uploaded, 1)
  return { dataDir, dogId, live, uploaded, whole, csvBefore, inLive, inUpload }
}

describe('a finished session with a damaged block', () => {
  it('keeps its review, tells what cannot be read, and refuses what rests on it, in words', async () => {
    const { dataDir, dogId, live, whole, inLive } = await damagedDog()
    const { app } = await listeningApp({ dataDir })
    const get = (path: string) => call(app, { url: `/api/sessions/${live}${path}` })
    const [before, report] = [await get(''), await get('/report')]
    expect(before.json()).toMatchObject({ state: 'finished' })
    for (const path of ['/report', '/timeline', '/edits', '/marks', '/repetition-notes']) {
      expect((await get(path)).statusCode, path).toBe(200)
    }
    const parts = (await get('/unreadable')).json<UnreadablePart[]>()
    const scale = await app.store.records.timeScale(live)
    const [firstIndex, endIndex] = [inLive.firstIndex, inLive.firstIndex + inLive.count]
    expect(parts).toEqual([
      {
        firstIndex,
        endIndex,
        fromS: expect.closeTo((firstIndex / 100) * scale, 9) as number,
        toS: expect.closeTo((endIndex / 100) * scale, 9) as number,
        channels: ['ax', 'ay', 'az'],
      },
    ])

    for (const file of ['/trace.csv', '/trace.edf']) {
      const refused = await get(file)
      expect(refused.statusCode).toBe(409)
      expect(refused.headers['content-type']).toMatch('application/problem+json')
      expect(refused.json()).toMatchObject({ code: 'SAMPLES_UNREADABLE', sessionId: live, unreadable: parts })
      expect(refused.json<{ detail: string }>().detail).toMatch(
        /all channels from \d+\.\d s to \d+\.\d s cannot be read/,
      )
    }

    const version = before.headers.etag as string
    const mark = { atS: 5, kind: 'note' }
    const edits = { marks: [], holds: [] }
    const etag = (await get('/edits')).headers.etag as string
    const url = `/api/sessions/${live}`
    for (const change of [
      { method: 'PATCH', url, payload: { mount: 'y=cranial,z=dorsal' }, headers: { 'if-match': version } },
      { method: 'PUT', url: `${url}/edits`, payload: edits, headers: { 'if-match': etag } },
      { method: 'POST', url: `${url}/marks`, payload: mark },
    ] as const) {
      const refused = await call(app, change)
      expect(refused.json(), change.method).toMatchObject({ status: 409, code: 'SAMPLES_UNREADABLE' })
    }
    expect((await get('')).json()).toEqual(before.json())
    expect((await get('/report')).json()).toEqual(report.json())
    const notes = {
      method: 'PATCH',
      url,
      payload: { notes: 'calm' },
      headers: { 'if-match': version },
    } as const
    expect((await call(app, notes)).statusCode).toBe(200)

    // The others of the dog, its trends and a new recording know nothing of it.
    expect((await call(app, { url: `/api/sessions/${whole}/trace.csv` })).statusCode).toBe(200)
    expect((await call(app, { url: `/api/sessions/${whole}/unreadable` })).json()).toEqual([])
    const trends = await call(app, { url: `/api/dogs/${dogId}/trends?measure=bestHoldS` })
    expect(trends.statusCode).toBe(200)
    expect(JSON.stringify(trends.json())).toContain(live)
  })

  it('gives what can be read when asked for it, as CSV and EDF+, with the gap and a note', async () => {
    const { dataDir, live, uploaded, csvBefore, inLive, inUpload } = await damagedDog()
    const { app } = await listeningApp({ dataDir })
    const file = (session: string, name: string) =>
      call(app, { url: `/api/sessions/${session}/${name}?unreadable=leave-out` })
    const csv = await file(live, 'trace.csv')
    expect(csv.statusCode).toBe(200)
    const [all, rest] = [parseTrace(csvBefore).trace, parseTrace(csv.body).trace]
    expect(rest.t.length).toBe(all.t.length - inLive.count)
    // Two lost samples at most lie within: by index, what is left is to the bit what was there.
    const kept = [...all.t.keys()].filter((i) => !isIn(inLive, i + (i >= 700 ? 40 : 0)))
    expect(Array.from(rest.t)).toEqual(kept.map((i) => all.t[i]))
    expect(Array.from(rest.acc.x)).toEqual(kept.map((i) => all.acc.x[i]))
    const note = rest.marks.find((mark) => mark.note?.startsWith('Not in this file'))
    expect(note).toMatchObject({
      kind: 'note',
      atS: expect.closeTo(all.t[inLive.firstIndex - 40], 1) as number,
    })

    const edf = parseEdf((await file(live, 'trace.edf')).rawPayload).trace
    expect(edf.marks.some((mark) => mark.note?.startsWith('Not in this file'))).toBe(true)
    const longest = Math.max(...Array.from(edf.t.subarray(1), (atS, i) => atS - edf.t[i]))
    expect(longest).toBeGreaterThan(inLive.count / 100 - 1)

    const ofUpload = parseTrace((await file(uploaded, 'trace.csv')).body).trace
    expect(ofUpload.t.length).toBe(inUpload.firstIndex)
    const [part] = (await call(app, { url: `/api/sessions/${uploaded}/unreadable` })).json<UnreadablePart[]>()
    expect(part.fromS).toBeCloseTo(ofUpload.t[ofUpload.t.length - 1], 9)
  })

  it('is exported with the rest of the dog, declares what is missing, and comes back', async () => {
    const { dataDir, dogId, live, uploaded, inLive } = await damagedDog()
    const { app } = await listeningApp({ dataDir })
    const reports = await Promise.all(
      [live, uploaded].map((id) => call(app, { url: `/api/sessions/${id}/report` })),
    )
    const zip = await exportedZip(app, dogId)
    const files = await unzipped(zip)
    const manifest = jsonOf(files, 'manifest.json')
    expect(manifest.sessions).toHaveLength(3)
    for (const id of [live, uploaded]) {
      for (const name of ['samples.csv', 'trace.edf']) {
        expect(manifest.without).toContainEqual({
          path: `sessions/${id}/${name}`,
          reason: expect.stringMatching(/^Not whole: all channels from \d+\.\d s to \d+\.\d s are left out/),
        })
        expect(files.has(`sessions/${id}/${name}`)).toBe(true)
      }
    }
    expect(jsonOf(files, `sessions/${live}/stream.json`).lost).toEqual([
      { firstIndex: 700, count: 40 },
      { firstIndex: inLive.firstIndex, count: inLive.count },
    ])

    const other = (await listeningApp({ dataDir: await temporaryDir() })).app
    const answer = await importZip(other, zip)
    expect(answer.statusCode, answer.body).toBe(201)
    for (const [i, id] of [live, uploaded].entries()) {
      expect((await call(other, { url: `/api/sessions/${id}/report` })).json()).toEqual(reports[i].json())
      expect((await call(other, { url: `/api/sessions/${id}/trace.csv` })).statusCode).toBe(200)
    }
  })

  it('is told once in the log and counted once in the metrics, however often it is met', async () => {
    const { dataDir, live } = await damagedDog()
    const { app } = await listeningApp({ dataDir })
    const told = vi.spyOn(app.log, 'error')
    for (let k = 0; k < 3; k++) await call(app, { url: `/api/sessions/${live}/unreadable` })
    await call(app, { url: `/api/sessions/${live}/trace.csv` })
    const lines = told.mock.calls.filter(([, words]) => words === 'stored samples are damaged')
    expect(lines).toHaveLength(1)
    expect(lines[0][0]).toMatchObject({ sessionId: live, stream: `stream-${live}` })
    const metrics = parseExposition((await call(app, { url: '/api/metrics' })).body)
    expect(metrics.get('swaybook_damaged_blocks_total')?.samples[0].value).toBe(1)
  })
})

it('a recording whose stored beginning is damaged goes on, and ends as one that could not be measured', async () => {
  const dataDir = await temporaryDir()
  await storeSession(dataDir, 'Juniper')
  flipBit(dataDir, 'stream-Juniper', 2000)
  const { app, wsUrl } = await listeningApp({ dataDir })
  const { sender, nextIndex } = await welcomedSender(wsUrl, 'session-Juniper', {
    stream: 'stream-Juniper',
    startedAtUs: STARTED_AT_US,
  })
  expect(nextIndex).toBe(6000)
  const values = [0, 1, 2].map((axis) => Float64Array.from({ length: 500 }, (_, i) => i / 8 + axis))
  sender.socket.send(
    encodeFrame({
      firstIndex: 6000,
      count: 500,
      channels: 3,
      encoding: 'float32',
      arrivedAtUs: STARTED_AT_US + 65e6,
      values,
    }),
  )
  await sender.next('ack', (ack) => ack.nextIndex === 6500)
  sender.send({ type: 'finish', stream: 'stream-Juniper', nextIndex: 6500 })
  await sender.next('finished')
  const session = (await call(app, { url: '/api/sessions/session-Juniper' })).json<SessionSummary>()
  expect(session).toMatchObject({
    state: 'failed',
    problem: expect.stringMatching(/all channels from 20\.0 s to 40\.0 s cannot be read/),
  })
})

function isIn({ firstIndex, count }: FlippedBlock, index: number): boolean {
  return firstIndex <= index && index < firstIndex + count
}
