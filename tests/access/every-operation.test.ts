import { expect, it, onTestFinished } from 'vitest'
import { buildApp } from '#server/app'
import { DEFAULT_LIMITS } from '#server/config'
import { call, testApp, testConfig } from '../helpers/build-app.ts'
import { saidBy } from '../helpers/said-by.ts'
import { addDogAs, addSessionAs, ask, castOf, ROLES_OF_TEST } from './cast.ts'
import type { Asking, Cast } from './cast.ts'

/** `in`: the door lets the request through, whatever the route then says of it. */
type Outcome =
  | 'in'
  | 'SIGN_IN_FIRST'
  | 'ROLE_TOO_LOW'
  | 'KEEPER_ONLY'
  | 'NOT_FOUND'
  | 'SHARE_NOT_VALID'
  | 'METRICS_TOKEN_REQUIRED'
type Row = Readonly<Record<Asking, Outcome>>

const NOBODY_SIGNED_IN = {
  nobody: 'SIGN_IN_FIRST',
  'live share': 'SIGN_IN_FIRST',
  'report share': 'SIGN_IN_FIRST',
  'paired phone': 'SIGN_IN_FIRST',
  'ended share': 'SIGN_IN_FIRST',
  'expired sign-in': 'SIGN_IN_FIRST',
  'ended sign-in': 'SIGN_IN_FIRST',
} as const
const STRANGERS = {
  ...NOBODY_SIGNED_IN,
  'owner of another dog': 'NOT_FOUND',
  'keeper without a role': 'NOT_FOUND',
} as const

const ANYONE: Row = {
  nobody: 'in',
  viewer: 'in',
  therapist: 'in',
  owner: 'in',
  'owner of another dog': 'in',
  'keeper without a role': 'in',
  'live share': 'in',
  'report share': 'in',
  'paired phone': 'in',
  'ended share': 'in',
  'expired sign-in': 'in',
  'ended sign-in': 'in',
}
const SIGNED_IN: Row = {
  ...NOBODY_SIGNED_IN,
  viewer: 'in',
  therapist: 'in',
  owner: 'in',
  'owner of another dog': 'in',
  'keeper without a role': 'in',
}
const KEEPER: Row = {
  ...NOBODY_SIGNED_IN,
  viewer: 'KEEPER_ONLY',
  therapist: 'KEEPER_ONLY',
  owner: 'KEEPER_ONLY',
  'owner of another dog': 'KEEPER_ONLY',
  'keeper without a role': 'in',
}
/** The keeper, or a program with a token that nobody of the cast has. */
const METRICS: Row = {
  nobody: 'METRICS_TOKEN_REQUIRED',
  viewer: 'METRICS_TOKEN_REQUIRED',
  therapist: 'METRICS_TOKEN_REQUIRED',
  owner: 'METRICS_TOKEN_REQUIRED',
  'owner of another dog': 'METRICS_TOKEN_REQUIRED',
  'keeper without a role': 'in',
  'live share': 'METRICS_TOKEN_REQUIRED',
  'report share': 'METRICS_TOKEN_REQUIRED',
  'paired phone': 'METRICS_TOKEN_REQUIRED',
  'ended share': 'METRICS_TOKEN_REQUIRED',
  'expired sign-in': 'METRICS_TOKEN_REQUIRED',
  'ended sign-in': 'METRICS_TOKEN_REQUIRED',
}
const FROM_VIEWER: Row = { ...STRANGERS, viewer: 'in', therapist: 'in', owner: 'in' }
const FROM_THERAPIST: Row = { ...STRANGERS, viewer: 'ROLE_TOO_LOW', therapist: 'in', owner: 'in' }
const OWNER: Row = { ...STRANGERS, viewer: 'ROLE_TOO_LOW', therapist: 'ROLE_TOO_LOW', owner: 'in' }
const shareOnly = (kind: 'live share' | 'report share'): Row => ({
  nobody: 'SIGN_IN_FIRST',
  viewer: 'SHARE_NOT_VALID',
  therapist: 'SHARE_NOT_VALID',
  owner: 'SHARE_NOT_VALID',
  'owner of another dog': 'SHARE_NOT_VALID',
  'keeper without a role': 'SHARE_NOT_VALID',
  'live share': kind === 'live share' ? 'in' : 'SHARE_NOT_VALID',
  'report share': kind === 'report share' ? 'in' : 'SHARE_NOT_VALID',
  'paired phone': 'SHARE_NOT_VALID',
  'ended share': 'SIGN_IN_FIRST',
  'expired sign-in': 'SIGN_IN_FIRST',
  'ended sign-in': 'SIGN_IN_FIRST',
})

/** Who may do what, as it was agreed; written by hand, not read from the routes. */
const EXPECTED: Readonly<Record<string, Row>> = {
  'GET /api/health': ANYONE,
  'GET /api/ready': ANYONE,
  'GET /api/metrics': METRICS,
  'GET /api/openapi.json': ANYONE,
  'GET /api/me': ANYONE,
  'POST /api/sign-in': ANYONE,
  'POST /api/invitations/look': ANYONE,
  'POST /api/invitations/accept': ANYONE,
  'POST /api/shares/open': ANYONE,
  'POST /api/pairings/redeem': ANYONE,

  'POST /api/sign-out': SIGNED_IN,
  'PATCH /api/me': SIGNED_IN,
  'PUT /api/me/password': SIGNED_IN,
  'POST /api/me/second-factor': SIGNED_IN,
  'PUT /api/me/second-factor': SIGNED_IN,
  'DELETE /api/me/second-factor': SIGNED_IN,
  'GET /api/me/sign-ins': SIGNED_IN,
  'DELETE /api/me/sign-ins': SIGNED_IN,
  'DELETE /api/me/sign-ins/{id}': SIGNED_IN,
  'GET /api/dogs': SIGNED_IN,
  'POST /api/dogs': SIGNED_IN,
  'GET /api/sessions': SIGNED_IN,
  'POST /api/imports': SIGNED_IN,

  'GET /api/people': KEEPER,
  'PATCH /api/people/{personId}': KEEPER,
  'DELETE /api/people/{personId}': KEEPER,
  'POST /api/people/{personId}/reset-link': KEEPER,
  'GET /api/audit': KEEPER,
  'POST /api/demo': KEEPER,

  'GET /api/dogs/{dogId}': FROM_VIEWER,
  'GET /api/dogs/{dogId}/people': FROM_VIEWER,
  // Anybody may give up a role of their own; the route asks again for that of others.
  'DELETE /api/dogs/{dogId}/people/{personId}': OWNER,
  'GET /api/dogs/{dogId}/plan': FROM_VIEWER,
  'GET /api/dogs/{dogId}/plans': FROM_VIEWER,
  'GET /api/dogs/{dogId}/dose': FROM_VIEWER,
  'GET /api/dogs/{dogId}/diary': FROM_VIEWER,
  'GET /api/dogs/{dogId}/trends': FROM_VIEWER,
  'GET /api/dogs/{dogId}/trend-settings': FROM_VIEWER,
  'GET /api/sessions/{sessionId}': FROM_VIEWER,
  'GET /api/sessions/{sessionId}/report': FROM_VIEWER,
  'GET /api/sessions/{sessionId}/timeline': FROM_VIEWER,
  'GET /api/sessions/{sessionId}/unreadable': FROM_VIEWER,
  'GET /api/sessions/{sessionId}/holds/{index}': FROM_VIEWER,
  'GET /api/sessions/{sessionId}/marks': FROM_VIEWER,
  'GET /api/sessions/{sessionId}/edits': FROM_VIEWER,
  'GET /api/sessions/{sessionId}/repetition-notes': FROM_VIEWER,
  'GET /api/sessions/{sessionId}/check-in': FROM_VIEWER,

  'PUT /api/dogs/{dogId}/plan': FROM_THERAPIST,
  'POST /api/dogs/{dogId}/diary': FROM_THERAPIST,
  'PUT /api/dogs/{dogId}/diary/{entryId}': FROM_THERAPIST,
  'DELETE /api/dogs/{dogId}/diary/{entryId}': FROM_THERAPIST,
  'PUT /api/dogs/{dogId}/trend-settings': FROM_THERAPIST,
  'POST /api/dogs/{dogId}/traces': FROM_THERAPIST,
  'GET /api/dogs/{dogId}/audit': FROM_THERAPIST,
  'GET /api/dogs/{dogId}/export.zip': FROM_THERAPIST,
  'GET /api/dogs/{dogId}/fhir.json': FROM_THERAPIST,
  'GET /api/dogs/{dogId}/trends.csv': FROM_THERAPIST,
  'POST /api/dogs/{dogId}/shares': FROM_THERAPIST,
  'GET /api/dogs/{dogId}/shares': FROM_THERAPIST,
  'DELETE /api/dogs/{dogId}/shares/{shareId}': FROM_THERAPIST,
  'POST /api/sessions': FROM_THERAPIST,
  'PATCH /api/sessions/{sessionId}': FROM_THERAPIST,
  'POST /api/sessions/{sessionId}/finish': FROM_THERAPIST,
  'POST /api/sessions/{sessionId}/pairing': FROM_THERAPIST,
  'POST /api/sessions/{sessionId}/marks': FROM_THERAPIST,
  'DELETE /api/sessions/{sessionId}/marks/{markId}': FROM_THERAPIST,
  'PUT /api/sessions/{sessionId}/edits': FROM_THERAPIST,
  'PUT /api/sessions/{sessionId}/repetition-notes/{noteId}': FROM_THERAPIST,
  'DELETE /api/sessions/{sessionId}/repetition-notes/{noteId}': FROM_THERAPIST,
  'PUT /api/sessions/{sessionId}/check-in': FROM_THERAPIST,
  'DELETE /api/sessions/{sessionId}/check-in': FROM_THERAPIST,
  'GET /api/sessions/{sessionId}/trace.csv': FROM_THERAPIST,
  'GET /api/sessions/{sessionId}/trace.edf': FROM_THERAPIST,

  'PATCH /api/dogs/{dogId}': OWNER,
  'DELETE /api/dogs/{dogId}': OWNER,
  'DELETE /api/sessions/{sessionId}': OWNER,
  'PUT /api/dogs/{dogId}/people/{personId}': OWNER,
  'POST /api/dogs/{dogId}/invitations': OWNER,
  'GET /api/dogs/{dogId}/invitations': OWNER,
  'DELETE /api/dogs/{dogId}/invitations/{invitationId}': OWNER,

  'GET /api/shared/session': shareOnly('live share'),
  'GET /api/shared/report': shareOnly('report share'),
}

const REFUSALS = [
  'SIGN_IN_FIRST',
  'ROLE_TOO_LOW',
  'KEEPER_ONLY',
  'SHARE_NOT_VALID',
  'METRICS_TOKEN_REQUIRED',
] as const
/** Asked last of each role, since nobody is signed in after it. */
const LAST = 'POST /api/sign-out'

/** Nothing holds the calls of this file back. */
const limits = Object.fromEntries(
  Object.entries(DEFAULT_LIMITS)
    .filter(([name]) => name.endsWith('PerMinute'))
    .map(([name]) => [name, 100_000]),
)

async function operationsOf(app: Awaited<ReturnType<typeof buildApp>>): Promise<string[]> {
  const { paths } = (await call(app, { url: '/api/openapi.json' })).json<{ paths: Record<string, object> }>()
  return Object.entries(paths)
    .flatMap(([path, methods]) => Object.keys(methods).map((method) => `${method.toUpperCase()} ${path}`))
    .filter((operation) => !operation.startsWith('HEAD ') && !operation.includes(' /api/live/'))
}

function outcomeOf(body: string): Outcome {
  const code = body.startsWith('{"type":"urn:swaybook:problem') ? (JSON.parse(body).code as string) : null
  if (code === 'DOG_NOT_FOUND' || code === 'SESSION_NOT_FOUND') return 'NOT_FOUND'
  return REFUSALS.find((refusal) => refusal === code) ?? 'in'
}

/** Ids in place of the names in braces: those of Juniper, and of nothing else that is there. */
function addressOf(path: string, dogId: string, sessionId: string): string {
  return path
    .replace('{dogId}', dogId)
    .replace('{sessionId}', sessionId)
    .replace('{index}', '0')
    .replace(/\{\w+\}/g, 'nothing-of-this-id')
}

/** What the door must not let anybody change, as it is stored. */
async function stored(app: Awaited<ReturnType<typeof buildApp>>, { dogId, doneSession, personIds }: Cast) {
  const { archives, people } = app.store
  return {
    dog: await archives.dog(dogId),
    session: await archives.session(doneSession),
    roles: await people.roles.ofDog(dogId),
    shares: await people.shares.ofDog(dogId, new Date(0)),
    invitations: await people.invitations.ofDog(dogId, new Date(0)),
    owner: await people.person(personIds.owner).then((person) => ({ ...person, lastSeenAt: null })),
  }
}

it('every operation of the API lets in exactly whom the table says, in every role', async () => {
  const app = await testApp({ limits })
  const operations = await operationsOf(app)
  expect(operations.toSorted()).toEqual(Object.keys(EXPECTED).toSorted())
  const cast = await castOf(app)
  const before = await stored(app, cast)

  const found: Record<string, Record<string, Outcome>> = {}
  const tried = async (operation: string, asking: Asking, dogId: string, sessionId: string) => {
    const [method, path] = operation.split(' ') as ['GET' | 'POST', string]
    const url = addressOf(path, dogId, sessionId)
    const payload = operation === 'POST /api/sessions' ? { dogId } : {}
    const body = method === 'GET' ? undefined : payload
    return ask(app, cast.cookies[asking], method, url, body)
  }
  const order = [...operations.filter((operation) => operation !== LAST), LAST]
  for (const asking of ROLES_OF_TEST.filter((role) => role !== 'owner')) {
    for (const operation of order) {
      const { body } = await tried(operation, asking, cast.dogId, cast.doneSession)
      ;(found[operation] ??= {})[asking] = outcomeOf(body)
    }
  }
  // None of them deleted or changed anything: what was let in had nothing to say.
  expect(await stored(app, cast)).toEqual(before)

  const { owner } = cast.cookies
  const spareDog = await addDogAs(app, owner, 'Thistle')
  const spareSession = await addSessionAs(app, owner, spareDog)
  for (const operation of order) {
    const destroys = operation.startsWith('DELETE') && /\{(dogId|sessionId)\}$/.test(operation)
    const ids = destroys ? ([spareDog, spareSession] as const) : ([cast.dogId, cast.doneSession] as const)
    if (operation === 'DELETE /api/dogs/{dogId}') continue
    found[operation].owner = outcomeOf((await tried(operation, 'owner', ...ids)).body)
  }
  const again = await ask(app, '', 'POST', '/api/sign-in', {
    signInName: 'ola',
    password: 'four paws on a soft pad',
  })
  const cookie = again.cookies.map(({ name, value }) => `${name}=${value}`).join()
  const deleted = await ask(app, cookie, 'DELETE', `/api/dogs/${spareDog}`)
  expect(deleted.statusCode).toBe(204)
  found['DELETE /api/dogs/{dogId}'].owner = outcomeOf(deleted.body)

  for (const operation of operations) expect(found[operation], operation).toEqual(EXPECTED[operation])
}, 120_000)

it('a dog somebody has no role with is answered to the letter as one that does not exist', async () => {
  const app = await testApp({ limits })
  const { dogId, doneSession, cookies } = await castOf(app)
  const stranger = cookies['owner of another dog']
  for (const operation of await operationsOf(app)) {
    const [method, path] = operation.split(' ') as ['GET' | 'POST', string]
    if (!path.includes('{dogId}') && !path.includes('{sessionId}')) continue
    const body = method === 'GET' ? undefined : {}
    const there = await ask(app, stranger, method, addressOf(path, dogId, doneSession), body)
    const nowhere = await ask(app, stranger, method, addressOf(path, 'no-such-dog', 'no-such-session'), body)
    expect(there.statusCode, operation).toBe(404)
    const words = saidBy(there).replaceAll(dogId, 'no-such-dog').replaceAll(doneSession, 'no-such-session')
    expect(words, operation).toBe(saidBy(nowhere))
  }
}, 120_000)

it('a route under /api that does not say who may use it stops the start', async () => {
  const app = await buildApp(testConfig())
  onTestFinished(() => app.close())
  expect(() => app.get('/api/left-open', () => 'everything')).toThrow(
    '/api/left-open does not declare who may use it',
  )
})
