import { describe, expect, it } from 'vitest'
import { DEFAULT_LIMITS } from '#server/config'
import { listeningApp } from '../helpers/build-app.ts'
import { helloMessage, LiveClient } from '../helpers/live-client.ts'
import { ask, castOf, ROLES_OF_TEST } from './cast.ts'
import type { Asking } from './cast.ts'

const limits = Object.fromEntries(
  Object.entries(DEFAULT_LIMITS)
    .filter(([name]) => name.endsWith('PerMinute'))
    .map(([name]) => [name, 100_000]),
)

type Answer = 'in' | 'SIGN_IN_FIRST' | 'ROLE_TOO_LOW' | 'SESSION_UNKNOWN'

/** By hand: who may watch the session that is shared live and paired, who may mark it, who may record it. */
const WATCH: Readonly<Record<Asking, Answer>> = {
  nobody: 'SIGN_IN_FIRST',
  viewer: 'in',
  therapist: 'in',
  owner: 'in',
  'owner of another dog': 'SESSION_UNKNOWN',
  'keeper without a role': 'SESSION_UNKNOWN',
  'live share': 'in',
  'report share': 'SIGN_IN_FIRST',
  'paired phone': 'SIGN_IN_FIRST',
  'ended share': 'SIGN_IN_FIRST',
  'expired sign-in': 'SIGN_IN_FIRST',
  'ended sign-in': 'SIGN_IN_FIRST',
}
const MARK: Readonly<Partial<Record<Asking, Answer>>> = {
  viewer: 'ROLE_TOO_LOW',
  therapist: 'in',
  owner: 'in',
  'live share': 'SIGN_IN_FIRST',
}
const SEND: Readonly<Record<Asking, Answer>> = {
  ...WATCH,
  viewer: 'ROLE_TOO_LOW',
  'live share': 'SIGN_IN_FIRST',
  'paired phone': 'in',
}

const mark = (id: string) => ({ type: 'mark', id, atS: 1, kind: 'note' })

async function stage() {
  const { app, wsUrl } = await listeningApp({ limits })
  const cast = await castOf(app)
  const open = (path: string, cookie: string) =>
    new LiveClient(`${wsUrl}/api/live/${path}`, cookie === '' ? {} : { headers: { cookie } }).opened()
  const watch = (asking: Asking, session = cast.liveSession) =>
    open(`watch?session=${session}`, cast.cookies[asking])
  const send = (asking: Asking) => open('send', cast.cookies[asking])
  return { app, cast, watch, send }
}

/** What a socket said first that decides. */
async function refusalOr(client: LiveClient, welcome: 'sender' | 'welcome' | 'marked'): Promise<Answer> {
  const error = client.next('error').then(({ code }) => code as Answer)
  return Promise.race([client.next(welcome).then(() => 'in' as const), error])
}

describe('the watch socket', () => {
  it('opens for whom the table says, and takes marks from whom it says', async () => {
    const { app, cast, watch } = await stage()
    for (const asking of ROLES_OF_TEST) {
      const client = await watch(asking)
      expect(await refusalOr(client, 'sender'), asking).toBe(WATCH[asking])
      if (WATCH[asking] !== 'in') {
        expect((await client.closed).code, asking).toBe(1008)
        continue
      }
      client.send(mark(`mark-of-${asking.replaceAll(' ', '-')}`))
      expect(await refusalOr(client, 'marked'), asking).toBe(MARK[asking])
      // Whoever may only watch goes on watching.
      client.send({ type: 'ping', sentAtUs: 1 })
      expect(await client.next('pong')).toMatchObject({ sentAtUs: 1 })
    }
    const marks = await app.store.records.marks(cast.liveSession)
    expect(marks.map(({ id }) => id).toSorted()).toEqual(['mark-of-owner', 'mark-of-therapist'])
    const { entries } = await app.store.records.audit.page(cast.dogId, { limit: 2 })
    expect(entries.map(({ actor }) => actor)).toEqual(['ola of the test', 'thea of the test'])
  }, 60_000)

  it('shows a share its own session and no other', async () => {
    const { cast, watch } = await stage()
    for (const session of [cast.doneSession, cast.otherSession, 'no-such-session']) {
      const client = await watch('live share', session)
      expect(await refusalOr(client, 'sender'), session).toBe('SIGN_IN_FIRST')
    }
  }, 60_000)
})

describe('the send socket', () => {
  it('takes a hello from whom the table says, and nothing else without one', async () => {
    const { cast, send } = await stage()
    for (const asking of ROLES_OF_TEST) {
      const client = await send(asking)
      client.send(helloMessage(cast.liveSession))
      expect(await refusalOr(client, 'welcome'), asking).toBe(SEND[asking])
      if (SEND[asking] !== 'in') expect((await client.closed).code, asking).toBe(1008)
    }
    for (const message of [
      mark('m'),
      { type: 'finish', stream: 'stream-1', nextIndex: 0 },
      new Uint8Array(40),
    ]) {
      const client = await send('nobody')
      if (message instanceof Uint8Array) client.socket.send(message)
      else client.send(message)
      expect(await client.next('error')).toMatchObject({ code: 'HELLO_FIRST', fatal: true })
    }
  }, 60_000)

  it('takes nothing from a paired phone for another session of the dog', async () => {
    const { cast, send } = await stage()
    for (const session of [cast.doneSession, cast.otherSession]) {
      const client = await send('paired phone')
      client.send(helloMessage(session))
      expect(await refusalOr(client, 'welcome')).toBe('SIGN_IN_FIRST')
    }
  }, 60_000)
})

describe('an open socket', () => {
  it.each<[string, Asking, 'watch' | 'send', (url: Parts) => Promise<unknown>]>([
    ['signs out', 'viewer', 'watch', ({ as }) => as('viewer', 'POST', '/api/sign-out')],
    [
      'is locked out',
      'therapist',
      'send',
      ({ as, ids }) => as('keeper without a role', 'PATCH', `/api/people/${ids.therapist}`, { locked: true }),
    ],
    [
      'loses the role',
      'viewer',
      'watch',
      ({ as, dogId, ids }) => as('owner', 'DELETE', `/api/dogs/${dogId}/people/${ids.viewer}`),
    ],
    [
      'gets a role too low for it',
      'therapist',
      'send',
      ({ as, dogId, ids }) =>
        as('owner', 'PUT', `/api/dogs/${dogId}/people/${ids.therapist}`, { role: 'viewer' }),
    ],
    [
      'had a share that is ended',
      'live share',
      'watch',
      async ({ as, dogId }) => {
        const shares = (await as('owner', 'GET', `/api/dogs/${dogId}/shares`)).json<Listed[]>()
        for (const { id, kind, revokedAt } of shares) {
          if (kind === 'live' && revokedAt === null)
            await as('owner', 'DELETE', `/api/dogs/${dogId}/shares/${id}`)
        }
      },
    ],
    [
      'changes the password elsewhere',
      'therapist',
      'watch',
      async ({ as }) => {
        const change = { current: 'four paws on a soft pad', password: 'another one for the same dog' }
        const names = { signInName: 'thea', password: change.current }
        const elsewhere = await as('nobody', 'POST', '/api/sign-in', names)
        const cookie = elsewhere.cookies.map(({ name, value }) => `${name}=${value}`).join()
        expect((await as(cookie, 'PUT', '/api/me/password', change)).statusCode).toBe(200)
      },
    ],
  ])(
    'closes at once with 1008 when who opened it %s',
    async (_, asking, kind, end) => {
      const { app, cast, watch, send } = await stage()
      const client = await (kind === 'watch' ? watch(asking) : send(asking))
      if (kind === 'send') client.send(helloMessage(cast.liveSession))
      expect(await refusalOr(client, kind === 'watch' ? 'sender' : 'welcome')).toBe('in')
      const stays = await watch('owner')
      expect(await refusalOr(stays, 'sender')).toBe('in')
      await end({
        dogId: cast.dogId,
        ids: cast.personIds,
        as: (who, method, url, payload) =>
          ask(app, who in cast.cookies ? cast.cookies[who as Asking] : who, method, url, payload),
      })
      expect((await client.closed).code).toBe(1008)
      expect(client.all('error').at(-1)).toMatchObject({ code: 'ACCESS_ENDED', fatal: true })
      // Nobody else was sent away.
      stays.send({ type: 'ping', sentAtUs: 2 })
      expect(await stays.next('pong')).toMatchObject({ sentAtUs: 2 })
    },
    60_000,
  )
})

interface Listed {
  readonly id: string
  readonly kind: string
  readonly revokedAt: string | null
}
interface Parts {
  readonly dogId: string
  readonly ids: Readonly<Record<string, string>>
  /** A role of the cast, or a cookie. */
  readonly as: (
    who: string,
    method: 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE',
    url: string,
    payload?: object,
  ) => ReturnType<typeof ask>
}
