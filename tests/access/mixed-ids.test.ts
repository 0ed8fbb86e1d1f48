import { expect, it } from 'vitest'
import { DEFAULT_LIMITS } from '#server/config'
import type { ShareMade } from '#protocol/people'
import { call, testApp } from '../helpers/build-app.ts'
import { exportedZip, importZip } from '../helpers/archive.ts'
import { addDogAs, addSessionAs, ask, castOf, joins, opensShare } from './cast.ts'

const limits = Object.fromEntries(
  Object.entries(DEFAULT_LIMITS)
    .filter(([name]) => name.endsWith('PerMinute'))
    .map(([name]) => [name, 100_000]),
)

it('an id of another dog within an address of the own one reaches nothing', async () => {
  const app = await testApp({ limits })
  const { dogId, doneSession, liveSession, otherDogId, cookies, personIds } = await castOf(app)
  const [owner, stranger] = [cookies.owner, cookies['owner of another dog']]
  const note = {
    kind: 'note',
    fromDate: '2026-01-05',
    untilDate: null,
    title: 'walked well',
    dose: null,
    note: null,
  }
  const entry = (await ask(app, owner, 'POST', `/api/dogs/${dogId}/diary`, note)).json<{ id: string }>().id
  const mark = { id: 'mark-of-juniper', atS: 0, kind: 'note' }
  expect((await ask(app, owner, 'POST', `/api/sessions/${liveSession}/marks`, mark)).statusCode).toBe(201)
  const share = await opensShare(app, owner, dogId, { kind: 'live', sessionId: liveSession, hours: 1 })
  const made = await ask(app, owner, 'POST', `/api/dogs/${dogId}/invitations`, { role: 'viewer' })
  const invitation = made.json<{ id: string }>().id
  const own = await addSessionAs(app, stranger, otherDogId)

  const own404 = async (method: 'DELETE' | 'PUT' | 'POST', url: string, code: string, body: object = {}) => {
    const answer = await ask(app, stranger, method, url, body)
    expect([answer.statusCode, answer.json<{ code: string }>().code], url).toEqual([404, code])
  }
  const other = `/api/dogs/${otherDogId}`
  await own404('DELETE', `${other}/shares/${share.id}`, 'SHARE_NOT_FOUND')
  await own404('DELETE', `${other}/invitations/${invitation}`, 'INVITATION_NOT_FOUND')
  await own404('PUT', `${other}/people/${personIds.viewer}`, 'PERSON_NOT_FOUND', { role: 'owner' })
  await own404('DELETE', `${other}/people/${personIds.viewer}`, 'PERSON_NOT_FOUND')
  await own404('POST', `${other}/shares`, 'SESSION_NOT_FOUND', {
    kind: 'live',
    sessionId: liveSession,
    hours: 1,
  })
  await own404('DELETE', `/api/sessions/${own}/marks/mark-of-juniper`, 'MARK_NOT_FOUND')
  await own404('POST', '/api/sessions', 'DOG_NOT_FOUND', { dogId, sensor: 'phone' })
  await own404('POST', `/api/sessions/${liveSession}/pairing`, 'SESSION_NOT_FOUND')
  const headers = { 'if-match': '*', cookie: stranger }
  const changed = await call(app, { method: 'PUT', url: `${other}/diary/${entry}`, headers, payload: note })
  expect(changed.json()).toMatchObject({ status: 404, code: 'DIARY_ENTRY_NOT_FOUND' })
  // Under an id of Juniper's session, with the own dog: the session stays hers.
  const long = 'session-with-an-id-of-its-own'
  await ask(app, owner, 'POST', '/api/sessions', { id: long, dogId, sensor: 'phone' })
  const again = await ask(app, stranger, 'POST', '/api/sessions', {
    id: long,
    dogId: otherDogId,
    sensor: 'phone',
  })
  expect(again.json()).toMatchObject({ code: 'SESSION_ID_TAKEN' })
  expect((await app.store.records.session(long))!.dogId).toBe(dogId)

  expect(await app.store.records.diary.entries(dogId)).toHaveLength(1)
  expect(await app.store.records.marks(liveSession)).toHaveLength(1)
  expect((await app.store.records.session(doneSession))!.dogId).toBe(dogId)
}, 60_000)

it('lists hold the dogs and sessions of who asks alone, whatever cursor or dog is named', async () => {
  const app = await testApp({ limits })
  const { dogId, otherDogId, otherSession, cookies } = await castOf(app)
  const stranger = cookies['owner of another dog']
  const dogs = (await ask(app, stranger, 'GET', '/api/dogs')).json<{ id: string }[]>()
  expect(dogs.map(({ id }) => id)).toEqual([otherDogId])
  expect((await ask(app, cookies['keeper without a role'], 'GET', '/api/dogs')).json()).toEqual([])
  const sessionsAt = async (query: string) =>
    (await ask(app, stranger, 'GET', `/api/sessions?${query}`)).json<{ sessions: { id: string }[] }>()
      .sessions
  expect((await sessionsAt('')).map(({ id }) => id)).toEqual([otherSession])
  expect(await sessionsAt(`dogId=${dogId}`)).toEqual([])
  const page = await ask(app, cookies.owner, 'GET', '/api/sessions?limit=1')
  const { next } = page.json<{ next: string }>()
  for (const { id } of await sessionsAt(`cursor=${encodeURIComponent(next)}`)) expect(id).toBe(otherSession)
}, 60_000)

it('an import over a dog of somebody else changes nothing, and a new one belongs to who brings it', async () => {
  const app = await testApp({ limits })
  const { dogId, cookies, personIds } = await castOf(app)
  const zip = await exportedZip(app, dogId, cookies.owner)
  const bring = (cookie: string) => importZip(app, zip, cookie)
  expect((await bring(cookies['owner of another dog'])).json()).toMatchObject({ code: 'DOG_EXISTS' })
  expect(await app.store.people.roles.role(personIds['owner of another dog'], dogId)).toBeNull()
  await ask(app, cookies.owner, 'DELETE', `/api/dogs/${dogId}`)
  expect((await bring(cookies['owner of another dog'])).statusCode).toBe(201)
  expect(await app.store.people.roles.ofDog(dogId)).toMatchObject([
    { personId: personIds['owner of another dog'], role: 'owner' },
  ])
}, 60_000)

it('a dog never loses its last owner, nor does an owner who goes leave working links', async () => {
  const app = await testApp({ limits })
  const { dogId, cookies, personIds } = await castOf(app)
  const { owner } = cookies
  const people = `/api/dogs/${dogId}/people`
  const refused = [
    await ask(app, owner, 'DELETE', `${people}/${personIds.owner}`),
    await ask(app, owner, 'PUT', `${people}/${personIds.owner}`, { role: 'viewer' }),
    await ask(app, cookies['keeper without a role'], 'DELETE', `/api/people/${personIds.owner}`),
  ]
  for (const answer of refused) expect(answer.json()).toMatchObject({ code: 'LAST_OWNER', status: 409 })

  const second = await joins(app, owner, dogId, 'owner', 'second')
  const link = { kind: 'report', from: '2026-01-01', to: '2026-01-31', days: 2 }
  const share = (await ask(app, second.cookie, 'POST', `/api/dogs/${dogId}/shares`, link)).json<ShareMade>()
  const made = await ask(app, second.cookie, 'POST', `/api/dogs/${dogId}/invitations`, { role: 'owner' })
  expect((await ask(app, owner, 'DELETE', `${people}/${second.id}`)).statusCode).toBe(204)
  const open = await ask(app, '', 'POST', '/api/shares/open', { secret: share.secret })
  expect(open.json()).toMatchObject({ code: 'SHARE_NOT_VALID' })
  const { secret } = made.json<{ secret: string }>()
  const back = await ask(app, second.cookie, 'POST', '/api/invitations/accept', { secret })
  expect(back.json()).toMatchObject({ code: 'INVITATION_NOT_VALID' })
}, 60_000)

it('a share of a report tells its period and nothing beside it', async () => {
  const app = await testApp({ limits })
  const { dogId, cookies } = await castOf(app)
  const { owner } = cookies
  const day = (fromDate: string, title: string) => ({
    kind: 'event',
    fromDate,
    untilDate: null,
    title,
    dose: null,
    note: null,
  })
  await ask(app, owner, 'POST', `/api/dogs/${dogId}/diary`, day('2026-01-10', 'within the period'))
  await ask(app, owner, 'POST', `/api/dogs/${dogId}/diary`, day('2025-11-10', 'long before'))
  await ask(app, owner, 'POST', `/api/dogs/${dogId}/diary`, day('2026-04-10', 'long after'))
  const scope = {
    kind: 'report',
    from: '2026-01-01',
    to: '2026-02-01',
    days: 1,
    questions: 'Is this enough?',
  }
  const { cookie } = await opensShare(app, owner, dogId, scope)
  const answer = await ask(app, cookie, 'GET', '/api/shared/report')
  expect(answer.json()).toMatchObject({ from: '2026-01-01', to: '2026-02-01', questions: 'Is this enough?' })
  expect(answer.body).toContain('within the period')
  expect(answer.body).not.toContain('long before')
  expect(answer.body).not.toContain('long after')
  expect(answer.json().dog).toMatchObject({ id: dogId, notes: null })
  // Sessions without a date are of no period.
  expect(answer.json().sessions).toEqual([])
  await addDogAs(app, owner, 'Thistle')
  const me = await ask(app, cookie, 'GET', '/api/me')
  expect(me.json()).toMatchObject({ person: null, shared: { kind: 'report', dogName: 'Juniper', dogId } })
}, 60_000)
