import { describe, expect, it } from 'vitest'
import { addDog, addLiveSession, testApp } from '../helpers/build-app.ts'

describe('/api/dogs', () => {
  it('creates, lists, gives and deletes a dog', async () => {
    const app = await testApp()
    const payload = { name: 'Juniper', breed: 'Lurcher', weightKg: 27 }
    const created = await app.inject({ method: 'POST', url: '/api/dogs', payload })
    expect(created.statusCode).toBe(201)
    const dog = created.json()
    expect(dog).toMatchObject({ ...payload, withersCm: null, demo: false, sessions: 0 })
    expect((await app.inject('/api/dogs')).json()).toEqual([dog])
    expect((await app.inject(`/api/dogs/${dog.id}`)).json()).toEqual(dog)
    const deleted = await app.inject({ method: 'DELETE', url: `/api/dogs/${dog.id}` })
    expect([deleted.statusCode, deleted.body]).toEqual([204, ''])
    const gone = await app.inject(`/api/dogs/${dog.id}`)
    expect(gone.statusCode).toBe(404)
    expect(gone.json()).toMatchObject({ code: 'DOG_NOT_FOUND', title: 'No such dog' })
  })

  it('refuses an unknown field and a wrong type, naming both', async () => {
    const app = await testApp()
    const payload = { name: 'Juniper', weightKg: '27', colour: 'grey' }
    const response = await app.inject({ method: 'POST', url: '/api/dogs', payload })
    expect(response.statusCode).toBe(400)
    expect(response.json().detail).toContain('body.weightKg must be number')
    expect(response.json().detail).toContain('colour')
  })
})

describe('/api/sessions', () => {
  it('opens a live session, changes its set-up and deletes it', async () => {
    const app = await testApp()
    const id = await addLiveSession(app)
    const url = `/api/sessions/${id}`
    const setUp = { exercise: 'stand', surface: 'foam pad' }
    const headers = { 'if-match': '*' }
    expect((await app.inject(url)).json()).toMatchObject({
      state: 'recording',
      setUp: null,
      dogName: 'Juniper',
    })
    expect((await app.inject({ method: 'PATCH', url, headers, payload: { setUp } })).json()).toMatchObject({
      setUp,
    })
    expect(
      (await app.inject({ method: 'PATCH', url, headers, payload: { setUp: null } })).json(),
    ).toMatchObject({
      setUp: null,
    })
    expect((await app.inject({ method: 'DELETE', url })).statusCode).toBe(204)
    expect((await app.inject(url)).json()).toMatchObject({ code: 'SESSION_NOT_FOUND' })
  })

  it('pages through the sessions of one dog', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    await addLiveSession(app)
    const ids = [
      await addLiveSession(app, dogId),
      await addLiveSession(app, dogId),
      await addLiveSession(app, dogId),
    ]
    const first = (await app.inject(`/api/sessions?dogId=${dogId}&limit=2`)).json()
    const second = (await app.inject(`/api/sessions?dogId=${dogId}&limit=2&cursor=${first.next}`)).json()
    const listed = [...first.sessions, ...second.sessions].map(({ id }: { id: string }) => id)
    expect(listed.sort()).toEqual(ids.sort())
    expect(second.next).toBeNull()
  })

  it('says that a session being recorded has no report yet', async () => {
    const app = await testApp()
    const id = await addLiveSession(app)
    const response = await app.inject(`/api/sessions/${id}/report`)
    expect(response.statusCode).toBe(404)
    expect(response.json()).toMatchObject({ code: 'REPORT_NOT_READY' })
  })

  it('refuses a session for a dog that does not exist', async () => {
    const app = await testApp()
    const payload = { dogId: 'nobody', sensor: 'phone' }
    const response = await app.inject({ method: 'POST', url: '/api/sessions', payload })
    expect(response.json()).toMatchObject({ code: 'DOG_NOT_FOUND', status: 404 })
  })
})

describe('/api/openapi.json', () => {
  it('is OpenAPI 3.1 and describes every route with its answers', async () => {
    const app = await testApp()
    const { openapi, paths } = (await app.inject('/api/openapi.json')).json()
    expect(openapi).toMatch(/^3\.1\./)
    expect(Object.keys(paths).sort()).toEqual([
      '/api/audit',
      '/api/demo',
      '/api/dogs',
      '/api/dogs/{dogId}',
      '/api/dogs/{dogId}/audit',
      '/api/dogs/{dogId}/diary',
      '/api/dogs/{dogId}/diary/{entryId}',
      '/api/dogs/{dogId}/dose',
      '/api/dogs/{dogId}/export.zip',
      '/api/dogs/{dogId}/fhir.json',
      '/api/dogs/{dogId}/invitations',
      '/api/dogs/{dogId}/invitations/{invitationId}',
      '/api/dogs/{dogId}/people',
      '/api/dogs/{dogId}/people/{personId}',
      '/api/dogs/{dogId}/plan',
      '/api/dogs/{dogId}/plans',
      '/api/dogs/{dogId}/shares',
      '/api/dogs/{dogId}/shares/{shareId}',
      '/api/dogs/{dogId}/traces',
      '/api/dogs/{dogId}/trend-settings',
      '/api/dogs/{dogId}/trends',
      '/api/dogs/{dogId}/trends.csv',
      '/api/health',
      '/api/imports',
      '/api/invitations/accept',
      '/api/invitations/look',
      '/api/me',
      '/api/me/password',
      '/api/me/second-factor',
      '/api/me/sign-ins',
      '/api/me/sign-ins/{id}',
      '/api/metrics',
      '/api/openapi.json',
      '/api/pairings/redeem',
      '/api/people',
      '/api/people/{personId}',
      '/api/people/{personId}/reset-link',
      '/api/ready',
      '/api/sessions',
      '/api/sessions/{sessionId}',
      '/api/sessions/{sessionId}/check-in',
      '/api/sessions/{sessionId}/edits',
      '/api/sessions/{sessionId}/finish',
      '/api/sessions/{sessionId}/holds/{index}',
      '/api/sessions/{sessionId}/marks',
      '/api/sessions/{sessionId}/marks/{markId}',
      '/api/sessions/{sessionId}/pairing',
      '/api/sessions/{sessionId}/repetition-notes',
      '/api/sessions/{sessionId}/repetition-notes/{noteId}',
      '/api/sessions/{sessionId}/report',
      '/api/sessions/{sessionId}/timeline',
      '/api/sessions/{sessionId}/trace.csv',
      '/api/sessions/{sessionId}/trace.edf',
      '/api/sessions/{sessionId}/unreadable',
      '/api/shared/report',
      '/api/shared/session',
      '/api/shares/open',
      '/api/sign-in',
      '/api/sign-out',
    ])
    for (const operations of Object.values<Record<string, { responses: Record<string, object> }>>(paths)) {
      for (const { responses } of Object.values(operations)) {
        const done = Object.keys(responses).find((status) => status.startsWith('2'))
        expect(done, JSON.stringify(responses)).toBeDefined()
      }
    }
  })
})
