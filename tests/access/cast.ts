import type { App } from '#server/app'
import type { InvitationMade, Role, ShareMade } from '#protocol/people'
import type { Pairing } from '#protocol/resources'
import { call } from '../helpers/build-app.ts'

/** Whoever may ask: people of a dog, others, and those who are nobody (any more). */
export const ROLES_OF_TEST = [
  'nobody',
  'viewer',
  'therapist',
  'owner',
  'owner of another dog',
  'keeper without a role',
  'live share',
  'report share',
  'paired phone',
  'ended share',
  'expired sign-in',
  'ended sign-in',
] as const
export type Asking = (typeof ROLES_OF_TEST)[number]

export interface Cast {
  readonly dogId: string
  /** Recorded without samples, and over. */
  readonly doneSession: string
  /** Being recorded; shared live, and the phone is paired with it. */
  readonly liveSession: string
  readonly otherDogId: string
  readonly otherSession: string
  readonly cookies: Readonly<Record<Asking, string>>
  readonly personIds: Readonly<Record<'viewer' | 'therapist' | 'owner' | 'owner of another dog', string>>
}

/** Nobody's name, and in no list of common passwords. */
export const PASSWORD = 'four paws on a soft pad'

/** Sends JSON with a cookie. */
export function ask(app: App, cookie: string, method: Method, url: string, payload?: object) {
  return call(app, { method, url, headers: cookie === '' ? {} : { cookie }, ...(payload && { payload }) })
}
type Method = 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE'

/** The cookie that an answer sets, as a browser sends it back. */
export function cookieOf({ cookies }: { cookies: readonly { name: string; value: string }[] }): string {
  return cookies.map(({ name, value }) => `${name}=${value}`).join('; ')
}

/** The owner of the installation sets a password: from here on everybody signs in. */
export async function keeperSignsIn(app: App): Promise<string> {
  const names = { signInName: 'keeper', name: 'Kit Keeper' }
  const answer = await ask(app, '', 'PUT', '/api/me/password', { password: PASSWORD, ...names })
  if (answer.statusCode !== 200) throw new Error(answer.body)
  return cookieOf(answer)
}

/** An account of its own for somebody invited to a dog. */
export async function joins(
  app: App,
  inviter: string,
  dogId: string,
  role: Role,
  signInName: string,
): Promise<{ cookie: string; id: string }> {
  const made = await ask(app, inviter, 'POST', `/api/dogs/${dogId}/invitations`, { role })
  const { secret } = made.json<InvitationMade>()
  const person = { secret, signInName, name: `${signInName} of the test`, password: PASSWORD }
  const answer = await ask(app, '', 'POST', '/api/invitations/accept', person)
  if (answer.statusCode !== 200) throw new Error(answer.body)
  return { cookie: cookieOf(answer), id: answer.json().person.id }
}

export async function addDogAs(app: App, cookie: string, name: string): Promise<string> {
  return (await ask(app, cookie, 'POST', '/api/dogs', { name })).json<{ id: string }>().id
}

export async function addSessionAs(app: App, cookie: string, dogId: string): Promise<string> {
  const session = { dogId, sensor: 'phone' }
  return (await ask(app, cookie, 'POST', '/api/sessions', session)).json<{ id: string }>().id
}

export async function opensShare(app: App, owner: string, dogId: string, share: object): Promise<ShareOf> {
  const made = (await ask(app, owner, 'POST', `/api/dogs/${dogId}/shares`, share)).json<ShareMade>()
  const answer = await ask(app, '', 'POST', '/api/shares/open', { secret: made.secret })
  if (answer.statusCode !== 200) throw new Error(answer.body)
  return { id: made.id, secret: made.secret, cookie: cookieOf(answer) }
}
interface ShareOf {
  readonly id: string
  readonly secret: string
  readonly cookie: string
}

/** Everybody at once, around Juniper; the app's limits must let so many in within a minute. */
export async function castOf(app: App): Promise<Cast> {
  const keeper = await keeperSignsIn(app)
  const first = await addDogAs(app, keeper, 'Bracken')
  const owner = await joins(app, keeper, first, 'viewer', 'ola')
  const other = await joins(app, keeper, first, 'viewer', 'oti')
  await ask(app, keeper, 'DELETE', `/api/dogs/${first}`)

  const dogId = await addDogAs(app, owner.cookie, 'Juniper')
  const otherDogId = await addDogAs(app, other.cookie, 'Bramble')
  const therapist = await joins(app, owner.cookie, dogId, 'therapist', 'thea')
  const viewer = await joins(app, owner.cookie, dogId, 'viewer', 'vin')

  const doneSession = await addSessionAs(app, owner.cookie, dogId)
  await ask(app, owner.cookie, 'POST', `/api/sessions/${doneSession}/finish`)
  const liveSession = await addSessionAs(app, owner.cookie, dogId)
  const otherSession = await addSessionAs(app, other.cookie, otherDogId)

  const live = { kind: 'live', sessionId: liveSession, hours: 1 }
  const report = { kind: 'report', from: '2026-01-01', to: '2026-02-01', days: 1 }
  const ended = await opensShare(app, owner.cookie, dogId, live)
  await ask(app, owner.cookie, 'DELETE', `/api/dogs/${dogId}/shares/${ended.id}`)

  const pairing = await ask(app, owner.cookie, 'POST', `/api/sessions/${liveSession}/pairing`)
  const { secret } = pairing.json<Pairing>()
  const phone = await ask(app, '', 'POST', '/api/pairings/redeem', { secret })

  return {
    dogId,
    otherDogId,
    doneSession,
    liveSession,
    otherSession,
    personIds: {
      viewer: viewer.id,
      therapist: therapist.id,
      owner: owner.id,
      'owner of another dog': other.id,
    },
    cookies: {
      nobody: '',
      viewer: viewer.cookie,
      therapist: therapist.cookie,
      owner: owner.cookie,
      'owner of another dog': other.cookie,
      'keeper without a role': keeper,
      'live share': (await opensShare(app, owner.cookie, dogId, live)).cookie,
      'report share': (await opensShare(app, owner.cookie, dogId, report)).cookie,
      'paired phone': cookieOf(phone),
      'ended share': ended.cookie,
      'expired sign-in': await expiredSignIn(app, owner.id),
      'ended sign-in': await endedSignIn(app),
    },
  }
}

/** A pass whose time is over; its secret is known to the test alone. */
async function expiredSignIn(app: App, personId: string): Promise<string> {
  const secret = 'e'.repeat(43)
  const { hashOf } = await import('#server/access/cookies')
  const pass = { personId, shareId: null, sessionId: null, device: 'a test', createdAtMs: Date.now() - 2000 }
  await app.store.people.passes.add({
    ...pass,
    hash: hashOf(secret),
    id: 'expired-pass',
    kind: 'sign-in',
    expiresAtMs: Date.now() - 1000,
  })
  return `swaybook_sign_in=${secret}`
}

async function endedSignIn(app: App): Promise<string> {
  const answer = await ask(app, '', 'POST', '/api/sign-in', { signInName: 'OLA', password: PASSWORD })
  const cookie = cookieOf(answer)
  await ask(app, cookie, 'POST', '/api/sign-out')
  return cookie
}
