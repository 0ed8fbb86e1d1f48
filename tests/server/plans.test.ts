import { describe, expect, it } from 'vitest'
import type { App } from '#server/app'
import { addDog, call, testApp } from '../helpers/build-app.ts'
import { madePlan } from '../helpers/made-plan.ts'

const put = (app: App, dogId: string, headers: Record<string, string>, payload: object = madePlan()) =>
  call(app, { method: 'PUT', url: `/api/dogs/${dogId}/plan`, headers, payload })
const get = (app: App, dogId: string) => call(app, { url: `/api/dogs/${dogId}/plan` })
const FIRST = { 'if-none-match': '*' }

describe('/api/dogs/:dogId/plan', () => {
  it('says that there is none, then gives what was set, word for word, with its ETag', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    expect((await get(app, dogId)).json()).toMatchObject({ code: 'PLAN_NOT_FOUND', status: 404 })
    expect((await call(app, { url: `/api/dogs/${dogId}/plans` })).json()).toEqual([])
    const made = await put(app, dogId, FIRST)
    expect([made.statusCode, made.headers.etag]).toEqual([201, '"1"'])
    expect(made.json()).toEqual({ ...madePlan(), dogId, version: 1, createdAt: expect.any(String) })
    const read = await get(app, dogId)
    expect([read.statusCode, read.headers.etag]).toEqual([200, '"1"'])
    expect(read.json()).toEqual(made.json())
  })

  it('makes a new version of every change and keeps the earlier ones as they were', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const first = (await put(app, dogId, FIRST)).json()
    const changed = madePlan({ sessionCapS: null, notes: 'Shorter weeks.' })
    const second = await put(app, dogId, { 'if-match': '"1"' }, changed)
    expect([second.statusCode, second.headers.etag]).toEqual([200, '"2"'])
    const all = (await call(app, { url: `/api/dogs/${dogId}/plans` })).json()
    expect(all).toEqual([second.json(), first])
    expect((await get(app, dogId)).json()).toMatchObject({ version: 2, ...changed })
  })

  it('refuses a change of a version that is not the newest with 412 and names the newest (RFC 9110 §13)', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    // Nothing is there that If-Match could match.
    for (const field of ['"1"', '*']) {
      const none = await put(app, dogId, { 'if-match': field })
      expect(none.json()).toMatchObject({ code: 'PLAN_CHANGED', status: 412, version: 0 })
    }
    await put(app, dogId, FIRST)
    await put(app, dogId, { 'if-match': '"1"' })
    // Old, weak (strong comparison, §8.8.3.2), and "for the first only".
    for (const headers of [{ 'if-match': '"1"' }, { 'if-match': 'W/"2"' }, FIRST]) {
      const refused = await put(app, dogId, headers as Record<string, string>)
      expect(refused.json()).toMatchObject({ code: 'PLAN_CHANGED', status: 412, version: 2 })
      expect(refused.headers.etag).toBe('"2"')
    }
    expect((await put(app, dogId, { 'if-match': '"9", "2"' })).statusCode).toBe(200)
    expect((await put(app, dogId, { 'if-match': '*' })).json()).toMatchObject({ version: 4 })
    expect((await call(app, { url: `/api/dogs/${dogId}/plans` })).json()).toHaveLength(4)
  })

  it('asks for the precondition with 428 (RFC 6585 §3) and refuses what is no entity tag', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    expect((await put(app, dogId, {})).json()).toMatchObject({ code: 'PRECONDITION_REQUIRED', status: 428 })
    expect((await put(app, dogId, { 'if-match': '1' })).json()).toMatchObject({ status: 400 })
    expect((await get(app, dogId)).statusCode).toBe(404)
  })

  it('of two changes at once of the same version only one comes through', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    await put(app, dogId, FIRST)
    const answers = await Promise.all([1, 2, 3].map(() => put(app, dogId, { 'if-match': '"1"' })))
    expect(answers.map(({ statusCode }) => statusCode).sort()).toEqual([200, 412, 412])
  })

  it('refuses an exercise id used twice, a day that does not exist, and a dog that does not', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const [exercise] = madePlan().exercises
    const twice = await put(app, dogId, FIRST, madePlan({ exercises: [exercise, exercise] }))
    expect(twice.json()).toMatchObject({ code: 'PLAN_INVALID', status: 422 })
    expect(twice.json().detail).toContain('foam-stand')
    const day = await put(app, dogId, FIRST, madePlan({ validFrom: '2026-02-30' }))
    expect(day.json().detail).toContain('2026-02-30')
    expect((await put(app, 'nobody', FIRST)).json()).toMatchObject({ code: 'DOG_NOT_FOUND' })
    const stop = { swayRatio: 0.9, holdRatio: null, supportRise: null }
    expect((await put(app, dogId, FIRST, madePlan({ stopRules: stop }))).statusCode).toBe(400)
  })
})

describe('/api/sessions/:sessionId/check-in', () => {
  it('keeps the last answer, shows it with the session, and takes it back', async () => {
    const app = await testApp()
    const payload = { dogId: await addDog(app), sensor: 'phone' }
    const { id } = (await call(app, { method: 'POST', url: '/api/sessions', payload })).json()
    const url = `/api/sessions/${id}/check-in`
    expect((await call(app, { url })).json()).toMatchObject({ code: 'CHECK_IN_NOT_FOUND', status: 404 })
    await call(app, { method: 'PUT', url, payload: { answer: 'normal' } })
    const answer = { answer: 'tired', note: 'slept all morning' }
    const stored = await call(app, { method: 'PUT', url, payload: answer })
    expect(stored.json()).toEqual({ ...answer, at: expect.any(String), version: 2 })
    expect((await call(app, { url })).json()).toEqual(stored.json())
    const listed = (await call(app, { url: '/api/sessions' })).json().sessions
    expect(listed[0].checkIn).toEqual(stored.json())
    expect((await call(app, { method: 'DELETE', url })).statusCode).toBe(204)
    expect((await call(app, { method: 'DELETE', url })).statusCode).toBe(404)
    expect((await call(app, { url: `/api/sessions/${id}` })).json().checkIn).toBeNull()
    expect((await call(app, { method: 'PUT', url, payload: { answer: 'great' } })).statusCode).toBe(400)
    const nobody = { method: 'PUT', url: '/api/sessions/nobody/check-in', payload: answer } as const
    expect((await call(app, nobody)).json()).toMatchObject({ code: 'SESSION_NOT_FOUND' })
  })

  it('plans and check-ins go with their dog', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    await put(app, dogId, FIRST)
    const payload = { dogId, sensor: 'phone' }
    const { id } = (await call(app, { method: 'POST', url: '/api/sessions', payload })).json()
    await call(app, { method: 'PUT', url: `/api/sessions/${id}/check-in`, payload: { answer: 'sore' } })
    await call(app, { method: 'DELETE', url: `/api/dogs/${dogId}` })
    expect(await app.store.records.plans.plans(dogId)).toEqual([])
    expect(await app.store.records.checkIns.remove(id)).toEqual({ kind: 'missing' })
  })
})
