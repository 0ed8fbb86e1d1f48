import { describe, expect, it } from 'vitest'
import type { AuditEntry } from '#protocol/diary'
import type { SessionSummary } from '#protocol/resources'
import type { SessionEdits, StoredSessionEdits } from '#protocol/session-review'
import { formatTraceCsv } from '#signal/trace/format'
import type { App } from '#server/app'
import { addDog, addLiveSession, call, testApp } from '../helpers/build-app.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { upload } from '../helpers/upload.ts'
import { change, dogWithSession, json } from '../helpers/versioned-calls.ts'

const trail = async (app: App, dogId: string) =>
  (await json<{ entries: AuditEntry[] }>(app, `/api/dogs/${dogId}/audit?limit=500`)).entries
const actions = async (app: App, dogId: string) => (await trail(app, dogId)).map(({ action }) => action)
const noted = (id: string, atS: number, kind: SessionEdits['marks'][number]['kind'] = 'note') => ({
  id,
  atS,
  kind,
  note: null,
})

describe('what was said already', () => {
  it('changes nothing of a check-in: the same version, the same time, no row in the trail', async () => {
    const app = await testApp()
    const { dogId, sessionId } = await dogWithSession(app)
    const url = `/api/sessions/${sessionId}/check-in`
    const payload = { answer: 'tired', note: 'after the stairs' }
    const first = (await call(app, { method: 'PUT', url, payload })).json()
    const before = await actions(app, dogId)
    const again = await change(app, 'PUT', url, 1, payload)
    expect(again.json()).toEqual(first)
    expect([again.statusCode, again.headers.etag]).toEqual([200, '"1"'])
    expect(await actions(app, dogId)).toEqual(before)
    expect((await change(app, 'PUT', url, 1, { answer: 'tired' })).json()).toMatchObject({ version: 2 })
  })

  it('changes nothing of trend settings', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const url = `/api/dogs/${dogId}/trend-settings`
    const settings = { familiar: ['foam'], withLookAlikes: [], baselineSessions: 8 }
    await change(app, 'PUT', url, 0, settings)
    const before = await actions(app, dogId)
    const again = await change(app, 'PUT', url, 1, settings)
    expect([again.json().version, again.headers.etag]).toEqual([1, '"1"'])
    expect(await actions(app, dogId)).toEqual(before)
  })

  it('changes nothing of marks and corrected holds, and nothing is measured again', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const { id } = (await upload(app, dogId, formatTraceCsv(sessionTrace()))).json<SessionSummary>()
    const url = `/api/sessions/${id}/edits`
    const { marks, version } = await json<StoredSessionEdits>(app, url)
    const holds = [{ id: 'h', kind: 'set', fromS: 18, toS: 21, reason: null }]
    const { json: first } = await change(app, 'PUT', url, version, { marks, holds })
    const stored = first<StoredSessionEdits>()
    const before = await actions(app, dogId)
    let measured = 0
    const { analyseAgain } = app.ingest
    app.ingest.analyseAgain = (sessionId) => {
      measured++
      return analyseAgain.call(app.ingest, sessionId)
    }
    const again = await change(app, 'PUT', url, stored.version, { marks, holds })
    expect(again.json()).toEqual(stored)
    expect(again.headers.etag).toBe(`"${stored.version}"`)
    expect(await actions(app, dogId)).toEqual(before)
    expect(measured).toBe(0)
    await change(app, 'PUT', url, stored.version, { marks, holds: [] })
    expect(measured).toBe(1)
  })
})

describe('marks of one instant', () => {
  it('in another order are a change: a version, a row with both orders, and an undo', async () => {
    const app = await testApp()
    const { dogId, sessionId } = await dogWithSession(app)
    const url = `/api/sessions/${sessionId}/edits`
    const document = { marks: [noted('on', 5, 'support-on'), noted('off', 5, 'support-off')], holds: [] }
    const other = { marks: document.marks.toReversed(), holds: [] }
    await change(app, 'PUT', url, 1, document)
    const turned = (await change(app, 'PUT', url, 2, other)).json()
    expect(turned).toEqual({ ...other, version: 3 })
    const [line] = await trail(app, dogId)
    expect(line).toMatchObject({
      action: 'edits.changed',
      detail: { marks: { order: [{ at: 5, before: ['on', 'off'], after: ['off', 'on'] }] } },
    })
    await change(app, 'PUT', url, 3, document)
    expect(await json(app, url)).toEqual({ ...document, version: 4 })
  })

  it('that are added after the others need no word on their order, and in between they do', async () => {
    const app = await testApp()
    const { dogId, sessionId } = await dogWithSession(app)
    const url = `/api/sessions/${sessionId}/edits`
    const [a, b, c] = ['a', 'b', 'c'].map((id) => noted(id, 5))
    await change(app, 'PUT', url, 1, { marks: [a], holds: [] })
    await change(app, 'PUT', url, 2, { marks: [a, b], holds: [] })
    await change(app, 'PUT', url, 3, { marks: [a, c, b], holds: [] })
    const [between, after] = (await trail(app, dogId)).map(({ detail }) => detail)
    expect(after).toEqual({ marks: { added: [b] } })
    expect(between).toEqual({
      marks: { added: [c], order: [{ at: 5, before: ['a', 'b'], after: ['a', 'c', 'b'] }] },
    })
  })
})

describe('a check-in that was removed', () => {
  it('and set again has a version it never had, so that no old ETag fits', async () => {
    const app = await testApp()
    const url = `/api/sessions/${(await dogWithSession(app)).sessionId}/check-in`
    await change(app, 'PUT', url, null, { answer: 'sore' })
    await change(app, 'DELETE', url, 1)
    expect((await change(app, 'PUT', url, null, { answer: 'normal' })).json().version).toBe(2)
    expect((await change(app, 'PUT', url, 1, { answer: 'better' })).statusCode).toBe(412)
    await change(app, 'PUT', url, 2, { answer: 'tired' })
    await change(app, 'DELETE', url, 3)
    expect((await change(app, 'PUT', url, null, { answer: 'tired' })).json().version).toBe(4)
  })
})

describe('the confirmation of a set-up', () => {
  const setUp = { exercise: 'stand', surface: 'foam pad', heightCm: 5 }

  async function confirmed(app: App) {
    const dogId = await addDog(app)
    const url = `/api/sessions/${await addLiveSession(app, dogId)}`
    await change(app, 'PATCH', url, 1, { setUp, setUpConfirmed: true })
    return { dogId, url }
  }

  it.each([
    ['another one', { ...setUp, surface: 'floor' }],
    ['none', null],
  ])('goes when the set-up becomes %s, and the trail says so', async (_name, other) => {
    const app = await testApp()
    const { dogId, url } = await confirmed(app)
    const changed = (await change(app, 'PATCH', url, 2, { setUp: other })).json<SessionSummary>()
    expect(changed).toMatchObject({ setUp: other, setUpConfirmedAt: null, version: 3 })
    expect((await actions(app, dogId)).slice(0, 2)).toEqual(['session.set-up-unconfirmed', 'session.changed'])
  })

  it('stays when the same set-up is said again, in whatever order, and when something else changes', async () => {
    const app = await testApp()
    const { url } = await confirmed(app)
    const before = await json<SessionSummary>(app, url)
    const turned = { heightCm: 5, surface: 'foam pad', exercise: 'stand' }
    expect((await change(app, 'PATCH', url, 2, { setUp: turned })).json()).toEqual(before)
    const { setUpConfirmedAt } = before
    expect((await change(app, 'PATCH', url, 2, { notes: 'calm' })).json()).toMatchObject({ setUpConfirmedAt })
  })

  it('that comes with the other set-up is of that one', async () => {
    const app = await testApp()
    const { dogId, url } = await confirmed(app)
    const other = { ...setUp, surface: 'floor' }
    const changed = (
      await change(app, 'PATCH', url, 2, { setUp: other, setUpConfirmed: true })
    ).json<SessionSummary>()
    expect(changed.setUpConfirmedAt).toEqual(expect.any(String))
    expect((await actions(app, dogId)).slice(0, 2)).toEqual(['session.set-up-confirmed', 'session.changed'])
  })
})
