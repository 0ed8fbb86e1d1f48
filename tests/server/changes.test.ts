import { describe, expect, it } from 'vitest'
import type { NewDiaryEntry } from '#protocol/diary'
import type { NewRepetitionNote } from '#protocol/session-review'
import type { NewTrendSettings } from '#protocol/trends'
import type { App } from '#server/app'
import { addDog, addLiveSession, call, testApp } from '../helpers/build-app.ts'
import { change, dogWithSession, json } from '../helpers/versioned-calls.ts'

const ENTRY: NewDiaryEntry = {
  kind: 'medication',
  fromDate: '2026-03-01',
  untilDate: null,
  title: 'Pain relief',
  dose: 'one tablet twice a day',
  note: null,
}
const NOTE: NewRepetitionNote = { atS: 12.5, stance: 'square', signs: ['panting', 'shuffling'], note: null }
const SETTINGS: NewTrendSettings = { familiar: ['foam'], withLookAlikes: [], baselineSessions: 8 }

interface Versioned {
  readonly url: string
  readonly method: 'PUT' | 'PATCH'
  /** Null for a record that is not there yet. */
  readonly version: number | null
  readonly bodies: readonly [object, object]
}

/** Every kind of record that others may change too, ready for its next change. */
const RECORDS: Record<string, (app: App) => Promise<Versioned>> = {
  'a dog': async (app) => ({
    url: `/api/dogs/${await addDog(app)}`,
    method: 'PATCH',
    version: 1,
    bodies: [{ bornYear: 2019 }, { bornYear: 2020 }],
  }),
  'a session': async (app) => ({
    url: `/api/sessions/${(await dogWithSession(app)).sessionId}`,
    method: 'PATCH',
    version: 1,
    bodies: [{ notes: 'calm' }, { excluded: { reason: 'harness slipped' } }],
  }),
  'the corrections of a session': async (app) => ({
    url: `/api/sessions/${(await dogWithSession(app)).sessionId}/edits`,
    method: 'PUT',
    version: 1,
    bodies: [
      { marks: [{ id: 'a', atS: 1, kind: 'note', note: null }], holds: [] },
      { marks: [], holds: [{ id: 'b', kind: 'set', fromS: 1, toS: 2, reason: null }] },
    ],
  }),
  'a note on a repetition': async (app) => ({
    url: `/api/sessions/${(await dogWithSession(app)).sessionId}/repetition-notes/n1`,
    method: 'PUT',
    version: null,
    bodies: [NOTE, { ...NOTE, stance: 'stretched' }],
  }),
  'an entry of the diary': async (app) => {
    const url = `/api/dogs/${await addDog(app)}/diary`
    const { id } = (await call(app, { method: 'POST', url, payload: ENTRY })).json()
    const bodies = [
      { ...ENTRY, note: 'with food' },
      { ...ENTRY, untilDate: '2026-04-01' },
    ] as const
    return { url: `${url}/${id}`, method: 'PUT', version: 1, bodies }
  },
  'trend settings': async (app) => ({
    url: `/api/dogs/${await addDog(app)}/trend-settings`,
    method: 'PUT',
    version: 0,
    bodies: [SETTINGS, { ...SETTINGS, baselineSessions: 3 }],
  }),
  'a check-in': async (app) => ({
    url: `/api/sessions/${(await dogWithSession(app)).sessionId}/check-in`,
    method: 'PUT',
    version: null,
    bodies: [{ answer: 'tired' }, { answer: 'normal' }],
  }),
}

describe.each(Object.entries(RECORDS))('%s', (name, open) => {
  it('is changed by who read its newest version, and the answer has the next ETag (RFC 9110 §8.8.3)', async () => {
    const app = await testApp()
    const { url, method, version, bodies } = await open(app)
    const first = await change(app, method, url, version, bodies[0])
    expect(first.statusCode, first.body).toBe(version === null && name !== 'a check-in' ? 201 : 200)
    expect(first.json()).toMatchObject(bodies[0])
    const next = (version ?? 0) + 1
    expect([first.json().version, first.headers.etag]).toEqual([next, `"${next}"`])
    const second = await change(app, method, url, next, bodies[1])
    expect([second.statusCode, second.headers.etag]).toEqual([200, `"${next + 1}"`])
  })

  it('of several changes at once of one version takes exactly one', async () => {
    const app = await testApp()
    const { url, method, version, bodies } = await open(app)
    const all = [bodies[0], bodies[1], bodies[0], bodies[1]]
    const answers = await Promise.all(all.map((body) => change(app, method, url, version, body)))
    const statuses = answers.map(({ statusCode }) => statusCode).sort()
    expect(statuses.slice(1)).toEqual([412, 412, 412])
    expect(statuses[0]).toBeLessThan(300)
  })

  it('refuses an older version and a weak ETag with 412, naming the newest, and changes nothing', async () => {
    const app = await testApp()
    const { url, method, version, bodies } = await open(app)
    const stored = (await change(app, method, url, version, bodies[0])).json()
    const weak = { 'if-match': `W/"${stored.version}"` }
    for (const refused of [
      await change(app, method, url, version, bodies[1]),
      await change(app, method, url, 999, bodies[1]),
      await call(app, { method, url, headers: weak, payload: bodies[1] }),
    ]) {
      expect(refused.json()).toMatchObject({ code: 'RECORD_CHANGED', status: 412, version: stored.version })
      expect(refused.headers.etag).toBe(`"${stored.version}"`)
    }
    // Refused changes made no version of their own.
    expect((await change(app, method, url, stored.version, bodies[1])).statusCode).toBe(200)
  })

  it.skipIf(name === 'a check-in')(
    'asks for the version with 428 (RFC 6585 §3), and refuses no entity tag',
    async () => {
      const app = await testApp()
      const { url, method, bodies } = await open(app)
      const bare = await call(app, { method, url, payload: bodies[0] })
      expect(bare.json()).toMatchObject({ code: 'PRECONDITION_REQUIRED', status: 428 })
      const headers = { 'if-match': '1' }
      expect((await call(app, { method, url, headers, payload: bodies[0] })).statusCode).toBe(400)
    },
  )
})

describe('a check-in', () => {
  it('may be changed and removed without a version, and is guarded by one that is sent', async () => {
    const app = await testApp()
    const url = `/api/sessions/${(await dogWithSession(app)).sessionId}/check-in`
    await call(app, { method: 'PUT', url, payload: { answer: 'tired' } })
    const anyway = await call(app, { method: 'PUT', url, payload: { answer: 'normal' } })
    expect(anyway.json()).toMatchObject({ answer: 'normal', version: 2 })
    expect((await change(app, 'PUT', url, null, { answer: 'sore' })).statusCode).toBe(412)
    expect((await change(app, 'DELETE', url, 1)).statusCode).toBe(412)
    expect(await json(app, url)).toMatchObject({ answer: 'normal' })
    expect((await change(app, 'DELETE', url, 2)).statusCode).toBe(204)
  })
})

describe('PATCH /api/dogs/:dogId', () => {
  it('changes what is sent, clears with null, and keeps the rest', async () => {
    const app = await testApp()
    const payload = { name: 'Juniper', breed: 'Lurcher', weightKg: 27, bornYear: 2017, notes: 'calm' }
    const dog = (await call(app, { method: 'POST', url: '/api/dogs', payload })).json()
    const url = `/api/dogs/${dog.id}`
    const changed = await change(app, 'PATCH', url, 1, { weightKg: 26.5, notes: null })
    expect(changed.json()).toEqual({ ...dog, weightKg: 26.5, notes: null, version: 2 })
    expect(await json(app, url)).toEqual(changed.json())
    // Said already: the same version.
    expect((await change(app, 'PATCH', url, 2, { weightKg: 26.5 })).json().version).toBe(2)
    for (const body of [
      {},
      { name: null },
      { name: '' },
      { weightKg: -1 },
      { bornYear: 2019.5 },
      { id: 'x' },
    ]) {
      expect((await change(app, 'PATCH', url, 2, body)).statusCode, JSON.stringify(body)).toBe(400)
    }
    expect((await change(app, 'PATCH', '/api/dogs/nobody', '*', { notes: 'x' })).json().code).toBe(
      'DOG_NOT_FOUND',
    )
  })
})

describe('PATCH /api/sessions/:sessionId', () => {
  it('takes notes, an exclusion with its reason, and the confirmation of the set-up, while recording too', async () => {
    const app = await testApp()
    const url = `/api/sessions/${await addLiveSession(app)}`
    const setUp = {
      exercise: 'stand',
      surface: 'balance pad',
      heightCm: 6,
      firmness: 'soft',
      unstable: true,
    }
    const body = { setUp, notes: 'wind', excluded: { reason: 'harness slipped' }, setUpConfirmed: true }
    const changed = (await change(app, 'PATCH', url, 1, body)).json()
    expect(changed).toMatchObject({
      setUp,
      notes: 'wind',
      excluded: { reason: 'harness slipped', at: expect.any(String) },
      setUpConfirmedAt: expect.any(String),
      version: 2,
    })
    expect(await json(app, url)).toEqual(changed)
    const [line] = (await json<{ sessions: object[] }>(app, '/api/sessions')).sessions
    expect(line).not.toHaveProperty('notes')
    const back = { notes: null, excluded: null, setUpConfirmed: false }
    expect((await change(app, 'PATCH', url, 2, back)).json()).toMatchObject({
      notes: null,
      excluded: null,
      setUpConfirmedAt: null,
    })
  })

  it('keeps when a session was excluded, and when its set-up was confirmed at its opening', async () => {
    const app = await testApp()
    const payload = { dogId: await addDog(app), sensor: 'phone', setUpConfirmed: true }
    const opened = (await call(app, { method: 'POST', url: '/api/sessions', payload })).json()
    expect(opened.setUpConfirmedAt).toBe(opened.createdAt)
    const url = `/api/sessions/${opened.id}`
    const excluded = { reason: 'dog was frightened' }
    const first = (await change(app, 'PATCH', url, 1, { excluded })).json()
    const again = await change(app, 'PATCH', url, 2, { excluded, setUpConfirmed: true, notes: 'thunder' })
    expect(again.json()).toMatchObject({
      excluded: first.excluded,
      setUpConfirmedAt: opened.createdAt,
      version: 3,
    })
  })
})

describe('/api/sessions/:sessionId/repetition-notes', () => {
  it('lists notes in the order of their time and removes the one that was read', async () => {
    const app = await testApp()
    const { sessionId } = await dogWithSession(app)
    const url = `/api/sessions/${sessionId}/repetition-notes`
    await change(app, 'PUT', `${url}/late`, null, { ...NOTE, atS: 30 })
    await change(app, 'PUT', `${url}/early`, null, { ...NOTE, atS: 3.25, stance: null, signs: [] })
    expect(await json(app, url)).toMatchObject([
      { id: 'early', atS: 3.25, stance: null, signs: [] },
      { id: 'late', atS: 30, stance: 'square', signs: ['panting', 'shuffling'] },
    ])
    expect((await change(app, 'DELETE', `${url}/late`, 2)).statusCode).toBe(412)
    expect((await change(app, 'DELETE', `${url}/late`, 1)).statusCode).toBe(204)
    expect((await change(app, 'DELETE', `${url}/late`, 1)).json().code).toBe('NOTE_NOT_FOUND')
    expect(await json(app, url)).toHaveLength(1)
    for (const body of [
      { signs: ['limping'] },
      { stance: 'odd' },
      { atS: -1 },
      { signs: ['panting', 'panting'] },
    ]) {
      expect((await change(app, 'PUT', `${url}/x`, null, { ...NOTE, ...body })).statusCode).toBe(400)
    }
    const nobody = '/api/sessions/nobody/repetition-notes'
    expect((await call(app, { url: nobody })).json().code).toBe('SESSION_NOT_FOUND')
    expect((await change(app, 'PUT', `${nobody}/x`, null, NOTE)).json().code).toBe('SESSION_NOT_FOUND')
  })
})

describe('/api/dogs/:dogId/diary', () => {
  it('lists entries newest first and removes the one that was read', async () => {
    const app = await testApp()
    const url = `/api/dogs/${await addDog(app)}/diary`
    const add = async (entry: NewDiaryEntry) =>
      (await call(app, { method: 'POST', url, payload: entry })).json()
    const medication = await add(ENTRY)
    const fall = await add({ ...ENTRY, kind: 'event', fromDate: '2026-04-02', title: 'Fell', dose: null })
    expect(await json(app, url)).toEqual([fall, medication])
    expect((await change(app, 'DELETE', `${url}/${fall.id}`, 9)).statusCode).toBe(412)
    expect((await change(app, 'DELETE', `${url}/${fall.id}`, 1)).statusCode).toBe(204)
    const gone = await change(app, 'PUT', `${url}/${fall.id}`, 1, ENTRY)
    expect(gone.json()).toMatchObject({ code: 'DIARY_ENTRY_NOT_FOUND', status: 404 })
    // Of another dog.
    const other = `/api/dogs/${await addDog(app)}/diary/${medication.id}`
    expect((await change(app, 'DELETE', other, 1)).json().code).toBe('DIARY_ENTRY_NOT_FOUND')
  })

  it('refuses days that do not exist, and an end before the beginning', async () => {
    const app = await testApp()
    const url = `/api/dogs/${await addDog(app)}/diary`
    for (const days of [
      { fromDate: '2026-02-30' },
      { untilDate: '2026-02-28' },
      { untilDate: '2026-13-01' },
    ]) {
      const refused = await call(app, { method: 'POST', url, payload: { ...ENTRY, ...days } })
      expect(refused.json()).toMatchObject({ code: 'DIARY_ENTRY_INVALID', status: 422 })
    }
    expect(await json(app, url)).toEqual([])
    const nobody = { method: 'POST', url: '/api/dogs/nobody/diary', payload: ENTRY } as const
    expect((await call(app, nobody)).json().code).toBe('DOG_NOT_FOUND')
  })
})

describe('/api/dogs/:dogId/trend-settings', () => {
  it('is version 0 until somebody has set any', async () => {
    const app = await testApp()
    const url = `/api/dogs/${await addDog(app)}/trend-settings`
    const first = await call(app, { url })
    expect(first.headers.etag).toBe('"0"')
    expect(first.json()).toEqual({ familiar: [], withLookAlikes: [], baselineSessions: 5, version: 0 })
    await change(app, 'PUT', url, 0, SETTINGS)
    expect(await json(app, url)).toEqual({ ...SETTINGS, version: 1 })
    const refused = await change(app, 'PUT', url, 1, { ...SETTINGS, baselineSessions: 2 })
    expect(refused.statusCode).toBe(400)
    expect((await call(app, { url: '/api/dogs/nobody/trend-settings' })).json().code).toBe('DOG_NOT_FOUND')
  })
})
