import { describe, expect, it } from 'vitest'
import { parseTrace } from '#signal/trace/parse'
import { formatTraceCsv } from '#signal/trace/format'
import type { SessionSummary } from '#protocol/resources'
import type { App } from '#server/app'
import { addDog, addLiveSession, testApp } from '../helpers/build-app.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { upload } from '../helpers/upload.ts'

const undated = (seed: number) => formatTraceCsv({ ...sessionTrace(seed), startedAtUs: null })

const change = (app: App, id: string, payload: object) =>
  app.inject({ method: 'PATCH', url: `/api/sessions/${id}`, headers: { 'if-match': '*' }, payload })

const listed = async (app: App) =>
  (await app.inject('/api/sessions')).json<{ sessions: SessionSummary[] }>().sessions.map(({ id }) => id)

describe('PATCH /api/sessions/:id with startedAt', () => {
  it('dates an upload that had no date: list order, report and file follow', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const older = (await upload(app, dogId, undated(1))).json<SessionSummary>()
    const newer = (await upload(app, dogId, undated(2))).json<SessionSummary>()
    expect([older.startedAt, newer.startedAt]).toEqual([null, null])
    // Without a date sessions are in the order they were made.
    expect(await listed(app)).toEqual([newer.id, older.id])

    const response = await change(app, newer.id, { startedAt: '2026-02-01T18:30:00+01:00' })
    expect(response.statusCode).toBe(200)
    expect(response.json()).toMatchObject({
      startedAt: '2026-02-01T17:30:00.000Z',
      createdAt: newer.createdAt,
      state: 'finished',
      holds: newer.holds,
      swayMs2: newer.swayMs2,
    })
    expect(await listed(app)).toEqual([older.id, newer.id])
    const report = (await app.inject(`/api/sessions/${newer.id}/report`)).json()
    expect(Date.parse(report.trace.startedAt)).toBe(Date.UTC(2026, 1, 1, 17, 30))
    const { trace } = parseTrace((await app.inject(`/api/sessions/${newer.id}/trace.csv`)).body)
    expect(trace.startedAtUs).toBe(Date.UTC(2026, 1, 1, 17, 30) * 1000)
  })

  it('corrects a date, and keeps the microseconds of one that is only confirmed', async () => {
    const app = await testApp()
    const startedAtUs = Date.UTC(2026, 2, 1, 17, 30) * 1000 + 123_456
    const csv = formatTraceCsv({ ...sessionTrace(), startedAtUs })
    const { id, startedAt } = (await upload(app, await addDog(app), csv)).json<SessionSummary>()
    const ofFile = async () =>
      parseTrace((await app.inject(`/api/sessions/${id}/trace.csv`)).body).trace.startedAtUs
    expect((await change(app, id, { startedAt })).json()).toMatchObject({ startedAt })
    expect(await ofFile()).toBe(startedAtUs)
    await change(app, id, { startedAt: '2026-03-02T17:30:00Z' })
    expect(await ofFile()).toBe(Date.UTC(2026, 2, 2, 17, 30) * 1000)
  })

  it('keeps the date when marks, mount or set-up change afterwards', async () => {
    const app = await testApp()
    const { id } = (await upload(app, await addDog(app), undated(1))).json<SessionSummary>()
    const startedAt = '2026-02-01T17:30:00.000Z'
    await change(app, id, { startedAt, setUp: { exercise: 'stand', surface: 'foam pad' } })
    await change(app, id, { mount: 'x=cranial,y=left,z=dorsal' })
    const payload = { atS: 3, kind: 'note' }
    await app.inject({ method: 'POST', url: `/api/sessions/${id}/marks`, payload })
    expect((await app.inject(`/api/sessions/${id}`)).json()).toMatchObject({ startedAt, state: 'finished' })
  })

  it.each([
    'yesterday',
    '2026-03-01',
    '2026-13-01T00:00:00Z',
    '1969-12-31T00:00:00Z',
    '9999-01-01T00:00:00Z',
  ])('refuses %s, in the form of an upload too, and changes nothing', async (startedAt) => {
    const app = await testApp()
    const dogId = await addDog(app)
    const { id } = (await upload(app, dogId, undated(1))).json<SessionSummary>()
    const response = await change(app, id, { startedAt })
    expect(response.json()).toMatchObject({ code: 'REQUEST_INVALID', status: 400 })
    expect(response.json().detail).toContain(startedAt)
    expect((await upload(app, dogId, undated(2), { startedAt })).statusCode).toBe(400)
    expect((await app.inject(`/api/sessions/${id}`)).json().startedAt).toBeNull()
  })

  it('refuses to date a recording that is under way: its sender does', async () => {
    const app = await testApp()
    const id = await addLiveSession(app)
    const response = await change(app, id, { startedAt: '2026-02-01T17:30:00Z' })
    expect(response.json()).toMatchObject({ code: 'SESSION_RECORDING', status: 409 })
  })
})
