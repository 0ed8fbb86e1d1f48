import { describe, expect, it, vi } from 'vitest'
import { Pairings } from '#server/live/pairings'
import type { App } from '#server/app'
import type { Pairing, RedeemedPairing } from '#protocol/resources'
import { addDog, addLiveSession, call, listeningApp, testApp } from '../helpers/build-app.ts'
import { madePlan } from '../helpers/made-plan.ts'
import { welcomedSender } from '../helpers/live-client.ts'
import { saidBy } from '../helpers/said-by.ts'

const LIFETIME_MS = 10 * 60_000

function pairingsAt(clock: { nowMs: number }) {
  return new Pairings({ lifetimeMs: LIFETIME_MS, nowMs: () => clock.nowMs })
}

async function pair(app: App, session: string): Promise<Pairing> {
  const response = await call(app, { method: 'POST', url: `/api/sessions/${session}/pairing` })
  expect(response.statusCode).toBe(201)
  return response.json<Pairing>()
}

const redeem = (app: App, secret: string) =>
  call(app, { method: 'POST', url: '/api/pairings/redeem', payload: { secret } })

describe('Pairings', () => {
  it('gives a secret of 32 bytes as 43 characters that need no escaping in an address', () => {
    const { secret } = pairingsAt({ nowMs: 0 }).open('session-a')
    // RFC 4648 §5: 32 bytes without padding are 43 characters of this alphabet.
    expect(secret).toMatch(/^[A-Za-z0-9_-]{43}$/)
  })

  it('never gives the same secret twice', () => {
    const pairings = pairingsAt({ nowMs: 0 })
    expect(new Set(Array.from({ length: 100 }, (_, i) => pairings.open(`s${i}`).secret)).size).toBe(100)
  })

  it('redeems a secret once, for its own session', () => {
    const pairings = pairingsAt({ nowMs: 0 })
    const a = pairings.open('session-a')
    const b = pairings.open('session-b')
    expect(pairings.redeem(b.secret)).toBe('session-b')
    expect(pairings.redeem(a.secret)).toBe('session-a')
    expect(pairings.redeem(a.secret)).toBeNull()
  })

  it('redeems until the instant it says it expires, and not at it', () => {
    const clock = { nowMs: 1_000 }
    const pairings = pairingsAt(clock)
    const a = pairings.open('session-a')
    const b = pairings.open('session-b')
    expect(Date.parse(a.expiresAt)).toBe(1_000 + LIFETIME_MS)
    clock.nowMs += LIFETIME_MS - 1
    expect(pairings.redeem(a.secret)).toBe('session-a')
    clock.nowMs += 1
    expect(pairings.redeem(b.secret)).toBeNull()
  })

  it('keeps one open pairing per session, the newest', () => {
    const pairings = pairingsAt({ nowMs: 0 })
    const first = pairings.open('session-a')
    const second = pairings.open('session-a')
    expect(pairings.redeem(first.secret)).toBeNull()
    expect(pairings.redeem(second.secret)).toBe('session-a')
  })
})

describe('pairing a phone', () => {
  it('tells the phone the session, the dog and the set-up, and nothing else', async () => {
    const app = await testApp()
    const dogId = await addDog(app, 'Juniper')
    const setUp = { exercise: 'stand on foam pad', surface: 'foam pad' }
    const created = await call(app, {
      method: 'POST',
      url: '/api/sessions',
      payload: { dogId, sensor: 'phone', setUp },
    })
    const session = created.json<{ id: string }>().id
    const { secret } = await pair(app, session)
    const response = await redeem(app, secret)
    expect(response.statusCode).toBe(200)
    expect(response.json<RedeemedPairing>()).toEqual({
      session,
      dogId,
      dogName: 'Juniper',
      setUp,
      autoStopS: 3600,
    })
    expect(response.headers['cache-control']).toBe('no-store')
  })

  it('lets a phone that nobody stops go on for 10 min beyond what the plan caps', async () => {
    const app = await testApp()
    const dogId = await addDog(app, 'Juniper')
    await app.store.records.plans.add(dogId, 0, madePlan({ sessionCapS: 240 }))
    const { secret } = await pair(app, await addLiveSession(app, dogId))
    expect((await redeem(app, secret)).json<RedeemedPairing>().autoStopS).toBe(240 + 600)
  })

  it('is in the audit trail, opened here and taken by the other device, without its secret', async () => {
    const app = await testApp()
    const dogId = await addDog(app)
    const session = await addLiveSession(app, dogId)
    const { secret } = await pair(app, session)
    await redeem(app, secret)
    await redeem(app, secret)
    const trail = await call(app, { url: `/api/dogs/${dogId}/audit` })
    expect(trail.json().entries.slice(0, 2)).toMatchObject([
      { action: 'session.paired', actor: 'paired device', sessionId: session, detail: {} },
      { action: 'session.pairing-opened', actor: 'this computer', sessionId: session, detail: {} },
    ])
    expect(trail.json().entries).toHaveLength(4)
    expect(trail.body).not.toContain(secret)
  })

  it('answers a used, an expired, an unknown secret and one of a finished session all the same', async () => {
    const app = await testApp({ limits: { redeemsPerMinute: 100 } })
    const expiring = await testApp({ limits: { pairingMs: 0 } })
    const used = await pair(app, await addLiveSession(app))
    await redeem(app, used.secret)
    const expired = await pair(expiring, await addLiveSession(expiring))
    const overSession = await addLiveSession(app)
    const over = await pair(app, overSession)
    await call(app, { method: 'POST', url: `/api/sessions/${overSession}/finish` })
    const answers = [
      await redeem(app, used.secret),
      await redeem(expiring, expired.secret),
      await redeem(app, 'A'.repeat(43)),
      await redeem(app, over.secret),
    ]
    for (const answer of answers) {
      expect(answer.statusCode).toBe(404)
      expect(answer.json()).toMatchObject({ code: 'PAIRING_NOT_VALID', status: 404 })
      expect(saidBy(answer)).toBe(saidBy(answers[0]))
    }
  })

  it('is refused for a session that does not exist or is over', async () => {
    const app = await testApp()
    const missing = await call(app, { method: 'POST', url: '/api/sessions/nobody/pairing' })
    expect(missing.json()).toMatchObject({ code: 'SESSION_NOT_FOUND', status: 404 })
    const session = await addLiveSession(app)
    await call(app, { method: 'POST', url: `/api/sessions/${session}/finish` })
    const over = await call(app, { method: 'POST', url: `/api/sessions/${session}/pairing` })
    expect(over.json()).toMatchObject({ code: 'SESSION_NOT_RECORDING', status: 409 })
  })

  it('refuses a secret of another shape before it is looked up', async () => {
    const app = await testApp()
    for (const secret of ['', 'short', '../'.repeat(15), 'A'.repeat(65)]) {
      expect((await redeem(app, secret)).statusCode).toBe(400)
    }
  })

  it('lets one address try 10 secrets a minute, and still serves it everything else', async () => {
    const app = await testApp()
    const statuses: number[] = []
    for (let i = 0; i < 12; i++) statuses.push((await redeem(app, 'A'.repeat(43))).statusCode)
    expect(statuses).toEqual([...Array.from({ length: 10 }, () => 404), 429, 429])
    expect((await call(app, { url: '/api/dogs' })).statusCode).toBe(200)
  })

  it('is not written to the log, whatever the level', async () => {
    const written: string[] = []
    const write = vi.spyOn(process.stderr, 'write').mockImplementation((chunk) => {
      written.push(String(chunk))
      return true
    })
    let secret: string
    try {
      const app = await testApp({ logLevel: 'trace' })
      secret = (await pair(app, await addLiveSession(app))).secret
      await redeem(app, secret)
      await redeem(app, secret)
      await redeem(app, `${secret}A`.repeat(3))
    } finally {
      write.mockRestore()
    }
    const log = written.join('')
    // Guards the guard: the requests themselves were logged.
    expect(log).toContain('/api/pairings/redeem')
    expect(log).not.toContain(secret)
  })

  it('is described in the OpenAPI document with its answers', async () => {
    const app = await testApp()
    const { paths } = (await call(app, { url: '/api/openapi.json' })).json()
    expect(Object.keys(paths['/api/sessions/{sessionId}/pairing'].post.responses)).toContain('201')
    expect(Object.keys(paths['/api/pairings/redeem'].post.responses)).toContain('200')
  })
})

describe('the mount of a session that waits for its phone', () => {
  it('can be said until the first hello and not after it', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const mount = (text: string) =>
      call(app, {
        method: 'PATCH',
        url: `/api/sessions/${session}`,
        headers: { 'if-match': '*' },
        payload: { mount: text },
      })
    expect((await mount('y=cranial,z=dorsal')).json()).toMatchObject({
      mount: 'y=cranial,z=dorsal',
      state: 'recording',
    })
    await welcomedSender(wsUrl, session)
    expect((await mount('auto')).json()).toMatchObject({ code: 'SESSION_RECORDING', status: 409 })
  })
})
