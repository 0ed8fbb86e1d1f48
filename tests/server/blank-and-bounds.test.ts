import { describe, expect, it } from 'vitest'
import { addDog, addLiveSession, call, testApp } from '../helpers/build-app.ts'
import { madePlan } from '../helpers/made-plan.ts'
import { change, dogWithSession, json } from '../helpers/versioned-calls.ts'

const BLANK = ' \t\n'
const ENTRY = {
  kind: 'event',
  fromDate: '2026-03-01',
  untilDate: null,
  title: 'Fell',
  dose: BLANK,
  note: BLANK,
}
const setUp = (words: object) => ({ exercise: 'stand', surface: 'foam pad', ...words })

describe('blank text', () => {
  it('is refused where words are required, and the answer names the field', async () => {
    const app = await testApp()
    const { dogId, sessionId } = await dogWithSession(app)
    const [dog, session] = [`/api/dogs/${dogId}`, `/api/sessions/${sessionId}`]
    const plan = madePlan()
    const [first] = plan.exercises
    const blankStand = { ...plan, exercises: [{ ...first, setUp: setUp({ exercise: BLANK }) }] }
    const tries = [
      [await call(app, { method: 'POST', url: '/api/dogs', payload: { name: BLANK } }), 'body.name'],
      [await change(app, 'PATCH', dog, 1, { name: BLANK }), 'body.name'],
      [await change(app, 'PATCH', session, 1, { setUp: setUp({ surface: BLANK }) }), 'body.setUp.surface'],
      [await change(app, 'PATCH', session, 1, { excluded: { reason: BLANK } }), 'body.excluded.reason'],
      [
        await call(app, { method: 'POST', url: `${dog}/diary`, payload: { ...ENTRY, title: BLANK } }),
        'body.title',
      ],
      [await change(app, 'PUT', `${dog}/plan`, null, { ...plan, setBy: BLANK }), 'body.setBy'],
      [await change(app, 'PUT', `${dog}/plan`, null, blankStand), 'body.exercises.0.setUp.exercise'],
    ] as const
    for (const [response, field] of tries) {
      expect(response.json()).toMatchObject({ status: 400, detail: `${field} must not be blank.` })
    }
    const empty = await call(app, { method: 'POST', url: '/api/dogs', payload: { name: '' } })
    expect(empty.json().detail).toBe('body.name must not be blank.')
  })

  it('is nothing said where words are optional, and what was typed stays as it is', async () => {
    const app = await testApp()
    const created = await call(app, {
      method: 'POST',
      url: '/api/dogs',
      payload: { name: ' Juniper ', breed: BLANK, notes: BLANK },
    })
    expect(created.json()).toMatchObject({ name: ' Juniper ', breed: null, notes: null })
    const dog = `/api/dogs/${created.json().id}`
    expect((await change(app, 'PATCH', dog, 1, { notes: BLANK })).json().version).toBe(1)
    const diary = (await call(app, { method: 'POST', url: `${dog}/diary`, payload: ENTRY })).json()
    expect(diary).toMatchObject({ dose: null, note: null })
    const plan = madePlan({ notes: BLANK })
    expect((await change(app, 'PUT', `${dog}/plan`, null, plan)).json().notes).toBeNull()

    const sessionId = await addLiveSession(app, created.json().id)
    const session = `/api/sessions/${sessionId}`
    await call(app, { method: 'POST', url: `${session}/finish` })
    expect((await change(app, 'PATCH', session, 1, { notes: BLANK })).json()).toMatchObject({
      notes: null,
      version: 1,
    })
    const answer = { answer: 'normal', note: BLANK }
    expect(
      (await call(app, { method: 'PUT', url: `${session}/check-in`, payload: answer })).json().note,
    ).toBe(null)
    const note = { atS: 1, stance: null, signs: [], note: BLANK }
    const noted = await change(app, 'PUT', `${session}/repetition-notes/n`, null, note)
    expect(noted.json().note).toBeNull()
    const mark = { id: 'm', atS: 1, kind: 'note', note: BLANK }
    expect((await call(app, { method: 'POST', url: `${session}/marks`, payload: mark })).json().note).toBe(
      null,
    )
    const hold = { id: 'h', kind: 'set', fromS: 1, toS: 2, reason: BLANK }
    const edits = await change(app, 'PUT', `${session}/edits`, '*', { marks: [mark], holds: [hold] })
    expect(edits.json()).toMatchObject({ marks: [{ note: null }], holds: [{ reason: null }] })
    expect(await json(app, `${session}/edits`)).toEqual(edits.json())
  })
})

describe('a moment', () => {
  it('of a session whose length nobody knows is at most two days after its start', async () => {
    const app = await testApp()
    const { sessionId } = await dogWithSession(app)
    const session = `/api/sessions/${sessionId}`
    const note = { stance: null, signs: [], note: null }
    const mark = { id: 'm', kind: 'note', note: null }
    const hold = { id: 'h', kind: 'set', fromS: 1, reason: null }
    for (const atS of [1e308, 172_801]) {
      const tries = [
        await change(app, 'PUT', `${session}/repetition-notes/n`, null, { ...note, atS }),
        await change(app, 'PUT', `${session}/edits`, '*', { marks: [{ ...mark, atS }], holds: [] }),
        await change(app, 'PUT', `${session}/edits`, '*', { marks: [], holds: [{ ...hold, toS: atS }] }),
        await call(app, { method: 'POST', url: `${session}/marks`, payload: { atS, kind: 'note' } }),
      ]
      expect(tries.map(({ statusCode }) => statusCode)).toEqual([400, 400, 400, 400])
    }
    const latest = await change(app, 'PUT', `${session}/repetition-notes/n`, null, { ...note, atS: 172_800 })
    expect(latest.statusCode).toBe(201)
  })
})

describe('a refusal', () => {
  it('of a word that is none of a list says the list once', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const session = `/api/sessions/${await addLiveSession(app, dogId)}`
    const payload = { atS: 1, kind: 'sneeze' }
    const mark = (await call(app, { method: 'POST', url: `${session}/marks`, payload })).json()
    expect(mark.detail).toBe(
      'body.kind must be one of support-on, support-off, repetition-start, repetition-end, ' +
        'quiet-stand-start, quiet-stand-end, walk-start, walk-end, note.',
    )
    const measure = (await call(app, { url: `/api/dogs/${dogId}/trends?measure=luck` })).json()
    expect(measure.detail).toMatch(/^querystring\.measure must be one of \w+(, \w+)+\.$/)
    const note = { atS: 1, stance: 'odd', signs: ['limping'], note: 5 }
    const refused = await change(app, 'PUT', `${session}/repetition-notes/n`, null, note)
    expect(refused.json().detail).toBe(
      'body.stance must be one of square, hind feet tucked under, stretched, weight shifted, null; ' +
        'body.signs.0 must be one of shuffling, paw off, arched back, sagging back, splayed stance, ' +
        'narrowed stance, trembling, panting, looking away, refusing the treat; ' +
        'body.note must be string or null.',
    )
  })

  it.each([
    ['an id that is too long', `/api/dogs/${'x'.repeat(101)}`],
    ['an id longer than any but not cut', `/api/dogs/${'x'.repeat(65)}`],
    ['an address that is none', '/api/dogs/%zz'],
    ['half a character', '/api/dogs/%E0%A4%A'],
  ])('of %s is a problem with a detail (RFC 9457)', async (_name, url) => {
    const app = await testApp()
    const response = await call(app, { url })
    expect(response.headers['content-type']).toContain('application/problem+json')
    expect(response.json()).toMatchObject({
      status: response.statusCode,
      code: 'REQUEST_INVALID',
      type: 'urn:swaybook:problem:request-invalid',
    })
    expect(response.statusCode).toBe(400)
    expect(response.json().detail.length).toBeGreaterThan(20)
  })
})
