import type { TSchema } from 'typebox'
import { Compile } from 'typebox/compile'
import { describe, expect, it } from 'vitest'
import { analyseTrace } from '#signal/report'
import { formatTraceCsv } from '#signal/trace/format'
import { parseTrace } from '#signal/trace/parse'
import { ReportSchema } from '#server/routes/report-schema'
import { HoldDetailSchema, TimelineSchema } from '#server/routes/review-schemas'
import { addDog, testApp } from '../helpers/build-app.ts'
import { madePlan } from '../helpers/made-plan.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { upload } from '../helpers/upload.ts'

const CSV = formatTraceCsv(sessionTrace())

describe('POST /api/dogs/:dogId/traces', () => {
  it('stores, analyses and lists a trace', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const response = await upload(app, dogId, CSV, { exercise: 'stand', surface: 'foam pad' })
    expect(response.statusCode).toBe(201)
    const session = response.json()
    expect(session).toMatchObject({
      dogId,
      state: 'finished',
      fileName: 'trace.csv',
      setUp: { exercise: 'stand', surface: 'foam pad' },
      startedAt: '2026-03-01T17:30:00.000Z',
      rateHz: 100,
    })
    expect(session.holds).toBeGreaterThanOrEqual(1)
    expect((await app.inject('/api/sessions')).json().sessions).toEqual([session])
  })

  it('takes the whole set-up with a file, and refuses the rest of one without its words', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const measured = {
      foreToHindCm: '45',
      leftToRightCm: '20.5',
      heightCm: '0',
      firmness: 'soft',
      unstable: 'false',
    }
    const words = { exercise: 'stand', surface: 'foam pad' }
    const stored = await upload(app, dogId, CSV, { ...words, ...measured })
    expect(stored.json().setUp).toEqual({
      ...words,
      foreToHindCm: 45,
      leftToRightCm: 20.5,
      heightCm: 0,
      firmness: 'soft',
      unstable: false,
    })
    for (const wrong of [measured, { ...words, firmness: 'hard' }, { ...words, unstable: 'perhaps' }]) {
      expect((await upload(app, dogId, `${CSV}\n`, wrong)).statusCode).toBe(400)
    }
  })

  it('follows the exercise of the plan in force on its day, by whose limits it is warned', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const plan = { ...madePlan(), validFrom: '2026-02-01', sessionCapS: 10 }
    const put = { method: 'PUT' as const, url: `/api/dogs/${dogId}/plan`, payload: plan }
    expect((await app.inject({ ...put, headers: { 'if-none-match': '*' } })).statusCode).toBe(201)
    const { setUp, id: exerciseId } = plan.exercises[0]
    const { exercise, surface } = setUp
    const fields = { exercise: ` ${exercise.toUpperCase()}`, surface }
    const session = (await upload(app, dogId, CSV, fields)).json()
    expect(session.planned).toEqual({ planVersion: 1, exerciseId })
    const reportOf = async () => (await app.inject(`/api/sessions/${session.id}/report`)).json()
    const report = await reportOf()
    expect(report.session.limitsBasis).toMatch(/^plan version 1, set by /)
    expect(report.session.planWarnings[0]).toMatch(/the limit is 0:10 \(plan version 1/)
    expect(session.planWarnings).toBe(report.session.planWarnings.length)
    const patch = {
      method: 'PATCH' as const,
      url: `/api/sessions/${session.id}`,
      headers: { 'if-match': '"1"' },
    }
    const startedAt = '2026-03-01T18:30:00.000Z'
    expect((await app.inject({ ...patch, payload: { startedAt } })).statusCode).toBe(200)
    expect((await reportOf()).session).toEqual(report.session)

    const other = (await upload(app, dogId, `${CSV}\n`, { exercise: 'sit', surface })).json()
    expect(other.planned).toBeNull()
  })

  it('keeps what a phone recorded apart from other traces, when somebody says so', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const sensorOf = async (content: string, fields: Record<string, string>) =>
      (await upload(app, dogId, content, fields)).json()
    expect(await sensorOf(CSV, { sensor: 'phone' })).toMatchObject({ sensor: 'phone', state: 'finished' })
    expect(await sensorOf(`${CSV}\n`, {})).toMatchObject({ sensor: 'upload' })
    expect((await upload(app, dogId, CSV, { sensor: 'watch' })).statusCode).toBe(400)
  })

  it('reports what analysing the file gives, and the same after analysing what is stored', async () => {
    const app = await testApp()
    const { id } = (await upload(app, await addDog(app), CSV)).json()
    const expected = analyseTrace({ ...parseTrace(CSV), file: 'trace.csv' })
    const report = async () => (await app.inject(`/api/sessions/${id}/report`)).json()
    // Through JSON: the report is compared as it is served.
    const served = JSON.parse(JSON.stringify(expected))
    expect(await report()).toEqual(served)
    const note = { id: 'n', atS: 3, kind: 'note', note: 'wagged' }
    await app.inject({ method: 'POST', url: `/api/sessions/${id}/marks`, payload: note })
    expect(await report()).toEqual(served)
  })

  it('resolves the heading with a stated mount, and analyses again when another one is stated', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const uploaded = await upload(app, dogId, CSV, { mount: 'x=cranial,y=left,z=dorsal' })
    const { id, mount } = uploaded.json()
    expect(mount).toBe('x=cranial,y=left,z=dorsal')
    const report = async () => (await app.inject(`/api/sessions/${id}/report`)).json()
    const stated = await report()
    expect(stated.mount).toMatchObject({ source: 'declared', headingResolved: true })
    const headers = { 'if-match': '*' }
    const patch = (payload: object) =>
      app.inject({ method: 'PATCH', url: `/api/sessions/${id}`, headers, payload })
    expect((await patch({ mount: 'x=left,y=caudal,z=dorsal' })).json()).toMatchObject({ state: 'finished' })
    const turned = await report()
    const [before, after] = [stated, turned].map(({ holds }) => holds.at(-1).sway.rms)
    expect(after.ml).toBeCloseTo(before.cc, 9)
    expect(after.cc).toBeCloseTo(before.ml, 9)
    expect((await patch({ mount: 'auto' })).statusCode).toBe(200)
    expect((await report()).mount.headingResolved).toBe(false)
  })

  it('refuses a mount that is not understood, saying how to write one', async () => {
    const app = await testApp()
    const response = await upload(app, await addDog(app), CSV, { mount: 'x=up' })
    expect(response.statusCode).toBe(400)
    expect(response.json().detail).toMatch(/x=cranial,y=left,z=dorsal/)
  })

  it('answers with what its schemas describe', async () => {
    const app = await testApp()
    const { id } = (await upload(app, await addDog(app), CSV)).json()
    const errors = async (path: string, schema: TSchema) =>
      Compile(schema).Errors((await app.inject(`/api/sessions/${id}/${path}`)).json())
    expect(await errors('report', ReportSchema)).toEqual([])
    expect(await errors('timeline', TimelineSchema)).toEqual([])
    expect(await errors('holds/0', HoldDetailSchema)).toEqual([])
    const beyond = await app.inject(`/api/sessions/${id}/holds/99`)
    expect(beyond.json()).toMatchObject({ code: 'HOLD_NOT_FOUND', status: 404 })
  })

  it('refuses the same content again for this dog, and takes it for another', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const { id } = (await upload(app, dogId, CSV)).json()
    const again = await upload(app, dogId, CSV, {}, 'renamed.csv')
    expect(again.statusCode).toBe(409)
    expect(again.json()).toMatchObject({ code: 'TRACE_DUPLICATE', sessionId: id })
    expect((await upload(app, await addDog(app, 'Bramble'), CSV)).statusCode).toBe(201)
  })

  it('stores one session when the same file is sent twice at once', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const both = await Promise.all([upload(app, dogId, CSV), upload(app, dogId, CSV)])
    expect(both.map(({ statusCode }) => statusCode).sort()).toEqual([201, 409])
  })

  it('says where a trace is wrong and what to do, and stores nothing of it', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const lines = CSV.split('\n')
    lines[200] = lines[200].replace(/,[^,]+/, ',oops')
    const response = await upload(app, dogId, lines.join('\n'))
    expect(response.statusCode).toBe(422)
    const problem = response.json()
    expect(problem).toMatchObject({ code: 'BAD_NUMBER', line: 201, value: 'oops' })
    expect(problem.column).toBe('ax_mps2')
    expect(problem.remedy).toMatch(/Remove the row or fill the cell/)
    expect((await app.inject('/api/sessions')).json().sessions).toEqual([])
  })

  it.each([
    ['nothing', '', 'EMPTY'],
    ['bytes that are not text', Uint8Array.from({ length: 5000 }, (_, i) => (i * 31) % 256), 'NOT_TEXT'],
    ['prose', 'Juniper stood very well today.\nShe was tired afterwards.\n', 'NO_COLUMNS'],
  ])('refuses %s with 422 and the code of the reader', async (_, content, code) => {
    const app = await testApp()
    const response = await upload(app, await addDog(app), content)
    expect([response.statusCode, response.json().code]).toEqual([422, code])
  })

  it('refuses a form that is no form, has no file, or a field it does not know', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const url = `/api/dogs/${dogId}/traces`
    expect((await app.inject({ method: 'POST', url, payload: { a: 1 } })).json().status).toBe(415)
    expect((await upload(app, dogId, CSV, { unit: 'furlong' })).json()).toMatchObject({ status: 400 })
    expect((await upload(app, dogId, CSV, { colour: 'grey' })).json()).toMatchObject({ status: 400 })
    expect((await upload(app, dogId, CSV, { startedAt: 'yesterday' })).json().detail).toContain('yesterday')
    expect((await upload(app, 'nobody', CSV)).json()).toMatchObject({ code: 'DOG_NOT_FOUND' })
  })

  it('refuses a file above the limit', async () => {
    const app = await testApp({ limits: { uploadBytes: 1000 } })
    const response = await upload(app, await addDog(app), CSV)
    expect([response.statusCode, response.json().code]).toEqual([413, 'UPLOAD_TOO_LARGE'])
  })

  it('gives up on a trace that takes too long, and analyses the next one', async () => {
    const app = await testApp({ limits: { analysisMs: 1 } })
    const response = await upload(app, await addDog(app), CSV)
    expect([response.statusCode, response.json().code]).toEqual([422, 'ANALYSIS_TOO_LONG'])
    const patient = await testApp()
    expect((await upload(patient, await addDog(patient), CSV)).statusCode).toBe(201)
  })

  it('survives a trace that needs more memory than allowed', async () => {
    const app = await testApp({ limits: { analysisHeapMb: 8 } })
    const response = await upload(app, await addDog(app), CSV.repeat(20))
    expect([response.statusCode, response.json().code]).toEqual([422, 'ANALYSIS_TOO_BIG'])
    expect((await app.inject('/api/health')).statusCode).toBe(200)
  })
})

describe('marks of a finished session', () => {
  it('change the report by the time they are answered', async () => {
    const app = await testApp()
    const csv = formatTraceCsv({ ...sessionTrace(), marks: [] })
    const { id } = (await upload(app, await addDog(app), csv)).json()
    const handsOff = async () => (await app.inject(`/api/sessions/${id}`)).json().handsOffHoldS
    const marks = `/api/sessions/${id}/marks`
    expect(await handsOff()).toBeNull()
    const payload = { id: 'off', atS: 0, kind: 'support-off' }
    expect((await app.inject({ method: 'POST', url: marks, payload })).statusCode).toBe(201)
    expect(await handsOff()).toBeGreaterThan(0)
    expect((await app.inject({ method: 'POST', url: marks, payload })).json()).toMatchObject(payload)
    expect((await app.inject(marks)).json()).toHaveLength(1)
    expect((await app.inject({ method: 'DELETE', url: `${marks}/off` })).statusCode).toBe(204)
    expect(await handsOff()).toBeNull()
    expect((await app.inject({ method: 'DELETE', url: `${marks}/off` })).json()).toMatchObject({
      status: 404,
    })
  })

  it('may lie at the end of the recording and not beyond it', async () => {
    const app = await testApp()
    const { id, durationS } = (await upload(app, await addDog(app), CSV)).json()
    const url = `/api/sessions/${id}/marks`
    const mark = (atS: number) =>
      app.inject({ method: 'POST', url, payload: { id: `m-${atS > durationS}`, atS, kind: 'note' } })
    expect((await mark(durationS)).statusCode).toBe(201)
    const before = (await app.inject(url)).json()
    const response = await mark(durationS + 0.5)
    expect(response.json()).toMatchObject({ code: 'MARK_BEYOND_END', status: 422 })
    expect(response.json().detail).toContain(`ends at ${Number(durationS.toFixed(3))} s`)
    expect((await app.inject(url)).json()).toEqual(before)
  })
})
