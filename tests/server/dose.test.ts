import { Compile } from 'typebox/compile'
import { describe, expect, it, vi } from 'vitest'
import { addDays, localDay, mondayOf } from '#protocol/local-week'
import type { App } from '#server/app'
import { DoseSchema } from '#server/routes/dose'
import { addDog, call, testApp } from '../helpers/build-app.ts'
import { madePlan } from '../helpers/made-plan.ts'

const doseUrl = (dogId: string, query = 'timeZone=UTC') => `/api/dogs/${dogId}/dose?${query}`

/** A finished session of so many days ago, just after midnight of UTC, without samples. */
async function addSession({ store: { records } }: App, dogId: string, id: string, daysAgo: number) {
  const startedAtUs = Date.parse(`${addDays(localDay(new Date(), 'UTC'), -daysAgo)}T00:00:01Z`) * 1000
  await records.addSession({
    id,
    dogId,
    sensor: 'bluetooth',
    fileName: null,
    contentHash: null,
    setUp: null,
    mount: 'auto',
    state: 'finished',
    startedAtUs,
  })
}

describe('GET /api/dogs/:dogId/dose', () => {
  it('answers with this week alone for a dog without sessions, as its schema says', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const response = await call(app, { url: doseUrl(dogId) })
    expect(response.statusCode).toBe(200)
    const dose = response.json()
    expect(Compile(DoseSchema).Check(dose)).toBe(true)
    expect(dose).toMatchObject({ dogId, timeZone: 'UTC', advice: [] })
    expect(dose.weeks).toMatchObject([
      { monday: mondayOf(localDay(new Date(), 'UTC')), current: true, done: { sessions: 0 } },
    ])
  })

  it('holds what was done against the plan and answers a tired morning with less', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const headers = { 'if-none-match': '*' }
    await call(app, { method: 'PUT', url: `/api/dogs/${dogId}/plan`, payload: madePlan(), headers })
    await addSession(app, dogId, 'yesterday', 1)
    await addSession(app, dogId, 'before', 15)
    const asked = (await call(app, { url: doseUrl(dogId) })).json()
    expect(asked.advice).toMatchObject([{ kind: 'check in', sessionId: 'yesterday' }])
    expect(asked.weeks.length).toBeGreaterThanOrEqual(3)
    expect(asked.weeks[0]).toMatchObject({ planVersion: 1, planned: { days: 5, sessions: 5 } })

    const payload = { answer: 'tired' }
    await call(app, { method: 'PUT', url: '/api/sessions/yesterday/check-in', payload })
    const dose = (await call(app, { url: doseUrl(dogId, 'timeZone=Asia/Kathmandu&weeks=1') })).json()
    expect(Compile(DoseSchema).Check(dose)).toBe(true)
    expect(dose.weeks).toHaveLength(1)
    expect(dose.advice).toHaveLength(1)
    expect(dose.advice[0]).toMatchObject({ kind: 'cut back' })
    expect(dose.advice[0].text).toContain("at most 1 of the plan's 3 repetitions")
    expect(dose.advice[0].basis).toContain('plan version 1, set by Rowan Vale')
  })

  it('counts signs of fatigue that were noted in the last session', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    await addSession(app, dogId, 'last', 0)
    const note = { atS: 5, stance: null, signs: ['panting', 'shuffling'], note: null }
    const put = await call(app, {
      method: 'PUT',
      url: '/api/sessions/last/repetition-notes/n1',
      payload: note,
      headers: { 'if-none-match': '*' },
    })
    expect(put.statusCode, put.body).toBeLessThan(300)
    const { advice } = (await call(app, { url: doseUrl(dogId) })).json()
    expect(advice).toMatchObject([{ kind: 'cut back' }])
    expect(advice[0].text).toContain('2 signs of fatigue')
  })

  it('reads no more sessions than the weeks need', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    // Three years of two sessions a day.
    for (let k = 0; k < 2190; k++) await addSession(app, dogId, `s${k}`, Math.floor(k / 2))
    const read = vi.spyOn(app.store.records, 'sessions')
    const weeks = async (query: string) =>
      (await call(app, { url: doseUrl(dogId, query) })).json().weeks.length
    expect(await weeks('timeZone=UTC')).toBe(26)
    expect(read).toHaveBeenCalledTimes(1)
    expect(await weeks('timeZone=UTC&weeks=520')).toBeGreaterThan(150)
  })

  it('refuses unknown time zones, none at all and weeks beyond ten years, and knows its dogs', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    for (const zone of ['Europe/Atlantis', '%2B02:00']) {
      const refused = await call(app, { url: doseUrl(dogId, `timeZone=${zone}`) })
      expect([refused.statusCode, refused.json().code]).toEqual([400, 'TIME_ZONE_UNKNOWN'])
    }
    for (const query of ['', 'timeZone=UTC&weeks=0', 'timeZone=UTC&weeks=521', 'timeZone=UTC&from=x']) {
      expect((await call(app, { url: doseUrl(dogId, query) })).statusCode, query).toBe(400)
    }
    expect((await call(app, { url: doseUrl('nobody') })).json().code).toBe('DOG_NOT_FOUND')
  })

  it('is described in the OpenAPI document', async () => {
    const { paths } = (await call(await testApp(), { url: '/api/openapi.json' })).json()
    expect(Object.keys(paths['/api/dogs/{dogId}/dose'].get.responses)).toContain('200')
  })
})

describe('a plan with a last day', () => {
  it('is kept with it, and refused when that is no day or lies before the first', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const put = (validUntil: string | null, headers: Record<string, string>) =>
      call(app, { method: 'PUT', url: `/api/dogs/${dogId}/plan`, payload: madePlan({ validUntil }), headers })
    for (const wrong of ['2026-02-30', '2026-02-28']) {
      expect((await put(wrong, { 'if-none-match': '*' })).json().code).toBe('PLAN_INVALID')
    }
    expect((await put('2026-03-01', { 'if-none-match': '*' })).json()).toMatchObject({
      validUntil: '2026-03-01',
    })
    expect((await put(null, { 'if-match': '"1"' })).json()).toMatchObject({ version: 2, validUntil: null })
  })
})
