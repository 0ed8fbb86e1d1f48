import { expect, it, vi } from 'vitest'
import { exportedZip, importZip, jsonOf, unzipped, withManifest, zipped } from '../helpers/archive.ts'
import type { Files } from '../helpers/archive.ts'
import { addDog, call, listeningApp, testApp } from '../helpers/build-app.ts'
import { madePlan } from '../helpers/made-plan.ts'
import { change } from '../helpers/versioned-calls.ts'
import { everyGet } from './every-get.ts'
import { liveSession } from './made-dog.ts'
import { refusal } from './staged.ts'

// Threads and apps of their own, on a machine that may be slow.
vi.setConfig({ testTimeout: 300_000 })

async function archive(): Promise<{ files: Files; dogId: string; sessionId: string }> {
  const server = await listeningApp()
  const { app } = server
  const dogId = await addDog(app)
  await change(app, 'PUT', `/api/dogs/${dogId}/plan`, null, madePlan())
  const day = { kind: 'note', fromDate: '2026-03-01', untilDate: null, title: 'Rain', dose: null, note: null }
  expect(
    (await call(app, { method: 'POST', url: `/api/dogs/${dogId}/diary`, payload: day })).statusCode,
  ).toBe(201)
  const sessionId = await liveSession(server, dogId, { channels: 3, samples: 1200, lost: [[300, 20]] })
  const payload = { answer: 'tired' }
  await call(app, { method: 'PUT', url: `/api/sessions/${sessionId}/check-in`, payload })
  const note = { atS: 2, stance: null, signs: ['panting'], note: null }
  await change(app, 'PUT', `/api/sessions/${sessionId}/repetition-notes/n`, null, note)
  return { files: await unzipped(await exportedZip(app, dogId)), dogId, sessionId }
}

type Tampering = readonly [file: string, where: string, change: (value: any) => void] // eslint-disable-line @typescript-eslint/no-explicit-any -- reaches into JSON

const edit = (kind: string, fromS: number, toS: number, id = 'e', reason: string | null = 'why') => ({
  id,
  kind,
  fromS,
  toS,
  reason,
})

/** A value each that fits no type, and where the refusal must say it is. */
const TAMPERED: readonly Tampering[] = [
  ['dog.json', '/weightKg', (dog) => (dog.weightKg = -1)],
  ['dog.json', '/bornYear', (dog) => (dog.bornYear = 1e9)],
  ['dog.json', '/createdAt', (dog) => (dog.createdAt = '2026-99-99T00:00:00Z')],
  ['plans.json', '/0/plan', (plans) => (plans[0].plan.validUntil = '2026-01-99')],
  ['plans.json', '/0/plan', (plans) => (plans[0].plan.validFrom = '2026-02-30')],
  ['plans.json', '/0/plan', (plans) => (plans[0].plan.validUntil = '2001-01-01')],
  ['plans.json', '/0/plan', ([{ plan }]) => plan.exercises.push(plan.exercises[0])],
  ['diary.json', '/0', (diary) => (diary[0].fromDate = '2026-99-99')],
  ['diary.json', '/0', (diary) => (diary[0].untilDate = '2001-01-01')],
  ['session.json', '/startedAtUs', (session) => (session.startedAtUs = 9e18)],
  ['session.json', '/startedAtUs', (session) => (session.startedAtUs = -9e18)],
  ['session.json', '/mount', (session) => (session.mount = 'bogus')],
  ['session.json', '/timeScale', (session) => (session.timeScale = 1e300)],
  ['session.json', '/rateHz', (session) => (session.rateHz = -1)],
  ['session.json', '/checkIn', (session) => (session.checkIn.at = '2026-13-01T00:00:00Z')],
  ['session.json', '/excluded', (session) => (session.excluded = { reason: '', at: session.createdAt })],
  ['session.json', '/planned', (session) => (session.planned = { planVersion: 1, exerciseId: 'none' })],
  ['session.json', '/planned', (session) => (session.planned = { planVersion: 9, exerciseId: 'none' })],
  ['edits.json', '/holds', (edits) => (edits.holds = [edit('set', 5, 2)])],
  ['edits.json', '/holds', (edits) => (edits.holds = [edit('set', 1, 3), edit('set', 2, 4, 'f')])],
  ['edits.json', '/holds', (edits) => (edits.holds = [edit('set', 1, 2), edit('set', 3, 4)])],
  ['edits.json', '/holds', (edits) => (edits.holds = [edit('leave out', 1, 2, 'e', ' ')])],
  ['edits.json', '/holds/1', (edits) => (edits.holds = [edit('set', 3, 4), edit('set', 1, 2, 'f')])],
  ['repetition-notes.json', '/0/atS', (notes) => (notes[0].atS = -1)],
  ['stream.json', '/startedAtUs', (stream) => (stream.startedAtUs = 9e18)],
  ['stream.json', '/nextIndex', (stream) => (stream.nextIndex = 1e15)],
  ['stream.json', '/rateHz', (stream) => (stream.rateHz = 1e-300)],
  ['stream.json', '/rateHz', (stream) => (stream.rateHz = 1e300)],
  ['stream.json', '/columns', (stream) => (stream.columns = ['ax', 'ax', 'ax'])],
  ['stream.json', '/resolutionMs2', (stream) => (stream.resolutionMs2 = -1)],
  ['report.json', '/session/comparable/swayRms', (report) => (report.session.comparable.swayRms = -1)],
  ['report.json', '/session/comparable/tremorRms', (report) => (report.session.comparable.tremorRms = -1)],
  ['report.json', '/session/comparable/pieces', (report) => (report.session.comparable.pieces = -1)],
  ['report.json', '/session/bestHoldS', (report) => (report.session.bestHoldS = -1)],
  ['report.json', '/trace/durationS', (report) => (report.trace.durationS = -1)],
  ['report.json', '/trace/startedAt', (report) => (report.trace.startedAt = 'soon')],
  ['report.json', '/quality/effectiveRateHz', (report) => (report.quality.effectiveRateHz = -100)],
  ['drawing.json', '/timeline/bucketS', (drawing) => (drawing.timeline.bucketS = -1)],
]

const OF_DOG = new Set(['dog.json', 'plans.json', 'diary.json'])

it('values that no route takes are refused, naming file and place, whatever hash the manifest has', async () => {
  const { files, sessionId } = await archive()
  for (const [file, where, tamper] of TAMPERED) {
    const path = OF_DOG.has(file) ? file : `sessions/${sessionId}/${file}`
    const error = await refusal(await tampered(files, path, tamper))
    const what = `${file} ${tamper.toString()}`
    expect(error, what).toMatchObject({ name: 'ArchiveError', code: 'ARCHIVE_CONTENT_INVALID', file: path })
    expect(error!.message, what).toMatch(`${path}, ${where}`)
  }
  expect(await refusal(await zipped(files))).toBeNull()
})

it('told through the API as 422 with words; every GET answers afterwards, and of the true archive too', async () => {
  const { files, dogId, sessionId } = await archive()
  const app = await testApp()
  const other = await addDog(app, 'Other')
  const folder = `sessions/${sessionId}`
  for (const [path, tamper] of [
    [`${folder}/session.json`, (session: { startedAtUs: number }) => (session.startedAtUs = 9e18)],
    ['plans.json', ([{ plan }]: { plan: { validUntil: string } }[]) => (plan.validUntil = '2026-01-99')],
    [
      `${folder}/report.json`,
      (report: { session: { comparable: { swayRms: number } } }) => (report.session.comparable.swayRms = -1),
    ],
  ] as const) {
    const answer = await importZip(app, await tampered(files, path, tamper as (value: unknown) => void))
    expect(answer.json(), path).toMatchObject({
      status: 422,
      code: 'ARCHIVE_CONTENT_INVALID',
      file: path,
      detail: expect.stringContaining(path),
      remedy: expect.any(String),
    })
  }
  for (const ids of [
    { dogId, sessionId },
    { dogId: other, sessionId },
  ]) {
    expect(failing(await everyGet(app, ids))).toEqual([])
  }
  // Starts at the ends of what a sensor's clock may say.
  for (const startedAtUs of [Number.MIN_SAFE_INTEGER, Number.MAX_SAFE_INTEGER]) {
    const far = await tampered(files, `${folder}/session.json`, (session: { startedAtUs: number }) => {
      session.startedAtUs = startedAtUs
    })
    expect((await importZip(app, far)).statusCode).toBe(201)
    const status = await everyGet(app, { dogId, sessionId })
    expect(failing(status)).toEqual([])
    expect(status[`/api/dogs/${dogId}/trends`]).toBe(200)
    expect(status[`/api/dogs/${dogId}/dose?timeZone=Europe%2FBerlin`]).toBe(200)
    await call(app, { method: 'DELETE', url: `/api/dogs/${dogId}` })
  }
})

const failing = (status: Record<string, number>) => Object.entries(status).filter(([, code]) => code >= 500)

function tampered(files: Files, path: string, change: (value: never) => void): Promise<Buffer> {
  const value = jsonOf(files, path)
  change(value as never)
  return zipped(withManifest(new Map(files).set(path, Buffer.from(JSON.stringify(value)))))
}
