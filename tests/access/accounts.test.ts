import { readFile } from 'node:fs/promises'
import { join } from 'node:path'
import { TOTP, Secret } from 'otpauth'
import { describe, expect, it, vi } from 'vitest'
import type { App } from '#server/app'
import { DEFAULT_LIMITS } from '#server/config'
import type { InvitationMade, Me, ResetLink, SecondFactorSet, SignedInDevice } from '#protocol/people'
import { LockOut } from '#server/people/lock-out'
import { weaknessOf } from '#server/people/password-rules'
import { Passwords } from '#server/people/passwords'
import { stepOf } from '#server/people/second-factor'
import { call, temporaryDir, testApp } from '../helpers/build-app.ts'
import { saidBy } from '../helpers/said-by.ts'
import { addDogAs, addSessionAs, ask, cookieOf, joins, keeperSignsIn, opensShare, PASSWORD } from './cast.ts'

const limits = Object.fromEntries(
  Object.entries(DEFAULT_LIMITS)
    .filter(([name]) => name.endsWith('PerMinute'))
    .map(([name]) => [name, 100_000]),
)

const signIn = (app: App, signInName: string, password: string, code?: string) =>
  ask(app, '', 'POST', '/api/sign-in', { signInName, password, ...(code !== undefined && { code }) })
const codeOf = (answer: { json: () => { code: string } }) => answer.json().code

describe('before anybody set a password', () => {
  it('whoever uses this computer is its owner, without a cookie', async () => {
    const app = await testApp()
    const answer = await ask(app, '', 'GET', '/api/me')
    expect(answer.json<Me>()).toMatchObject({
      person: { keeper: true, hasSecondFactor: false },
      via: 'this computer',
      passwordSet: false,
      demo: true,
      shared: null,
    })
    expect(answer.headers['set-cookie']).toBeUndefined()
  })

  it('nobody is the owner where others can reach the server', async () => {
    const app = await testApp({ exposure: 'proxy', publicOrigins: ['https://dogs.example'] })
    const headers = {
      host: 'dogs.example',
      'x-forwarded-host': 'dogs.example',
      'x-forwarded-proto': 'https',
      'x-forwarded-for': '203.0.113.7',
    }
    const answer = await app.inject({ url: '/api/dogs', headers })
    expect(answer.json()).toMatchObject({ code: 'SIGN_IN_FIRST', status: 401 })
    const me = await app.inject({ url: '/api/me', headers })
    expect(me.json<Me>()).toEqual({ person: null, via: null, passwordSet: false, demo: false, shared: null })
  })
})

describe('the first password', () => {
  it('signs the browser in with a cookie that pages cannot read, and shuts out whoever has none', async () => {
    const app = await testApp()
    const names = { signInName: ' Kit@Home ', name: 'Kit Keeper' }
    const answer = await ask(app, '', 'PUT', '/api/me/password', { password: PASSWORD, ...names })
    expect(answer.json<Me>()).toMatchObject({
      person: { signInName: 'Kit@Home', name: 'Kit Keeper' },
      via: 'sign-in',
      passwordSet: true,
    })
    const [keeper] = (await ask(app, cookieOf(answer), 'GET', '/api/people')).json<
      { lastSeenAt: string | null }[]
    >()
    expect(Date.parse(String(keeper?.lastSeenAt))).toBeLessThanOrEqual(Date.now())
    const [cookie] = answer.cookies
    expect(cookie).toMatchObject({ name: 'swaybook_sign_in', httpOnly: true, sameSite: 'Strict', path: '/' })
    // RFC 4648 §5: 32 bytes without padding.
    expect(cookie.value).toMatch(/^[A-Za-z0-9_-]{43}$/)
    expect(codeOf(await ask(app, '', 'GET', '/api/dogs'))).toBe('SIGN_IN_FIRST')
    expect((await ask(app, cookieOf(answer), 'GET', '/api/dogs')).statusCode).toBe(200)
    expect((await signIn(app, 'kit@home', PASSWORD)).statusCode).toBe(200)
  })

  it.each([
    ['seven 7', 'too short'],
    ['dog '.repeat(33), 'too long'],
    ['Password1', 'common'],
    ['my keeper in here', 'contains the sign-in name'],
  ])('%s is refused: %s', async (password, reason) => {
    const app = await testApp()
    const answer = await ask(app, '', 'PUT', '/api/me/password', { password, signInName: 'keeper' })
    expect(answer.json()).toMatchObject({ code: 'PASSWORD_WEAK', status: 422, reason })
    expect(await app.store.people.hasPassword()).toBe(false)
  })

  it('is counted in code points, and any character will do', () => {
    expect(weaknessOf('🐕🐾🦮🐩🐕🐾🦮', 'keeper')).toBe('too short')
    expect(weaknessOf('🐕🐾🦮🐩🐕🐾🦮🐩', 'keeper')).toBeNull()
    expect(weaknessOf('a b c d e f', 'keeper')).toBeNull()
    expect(weaknessOf('x'.repeat(128), 'keeper')).toBeNull()
  })
})

describe('a stored password', () => {
  it('is argon2id with 19 MiB, two passes and one lane', async () => {
    // OWASP Password Storage Cheat Sheet: m=19456, t=2, p=1. The form is that of RFC 9106's reference code.
    expect(await new Passwords().hash(PASSWORD)).toMatch(/^\$argon2id\$v=19\$m=19456,t=2,p=1\$/)
  })

  it('fits however its letters were composed, and nothing fits where there is none', async () => {
    const passwords = new Passwords()
    const stored = await passwords.hash('schöne lange leine')
    expect(await passwords.verify(stored, 'schöne lange leine'.normalize('NFD'))).toBe(true)
    expect(await passwords.verify(stored, 'schone lange leine')).toBe(false)
    expect(await passwords.verify(null, 'nobody has this password')).toBe(false)
  })
})

describe('signing in', () => {
  it('says the same to a wrong name, a wrong password and a locked account', async () => {
    const app = await testApp({ limits })
    const keeper = await keeperSignsIn(app)
    const dogId = await addDogAs(app, keeper, 'Juniper')
    const { id } = await joins(app, keeper, dogId, 'viewer', 'vin')
    await ask(app, keeper, 'PATCH', `/api/people/${id}`, { locked: true })
    const answers = [
      await signIn(app, 'nobody of this name', PASSWORD),
      await signIn(app, 'keeper', 'not this one at all'),
      await signIn(app, 'vin', PASSWORD),
    ]
    for (const answer of answers) expect(saidBy(answer)).toBe(saidBy(answers[0]))
    expect(answers[0].json()).toMatchObject({ code: 'SIGN_IN_FAILED', status: 401 })
  })

  it('has to wait after five failures with a name, known or not, even with the right password', async () => {
    const app = await testApp({ limits })
    await keeperSignsIn(app)
    for (const name of ['keeper', 'nobody']) {
      for (let k = 0; k < 5; k++)
        expect(codeOf(await signIn(app, name, 'wrong as can be'))).toBe('SIGN_IN_FAILED')
      const answer = await signIn(app, name.toUpperCase(), PASSWORD)
      expect(answer.json()).toMatchObject({ code: 'SIGN_IN_LOCKED', status: 429 })
      expect(Number(answer.headers['retry-after'])).toBeGreaterThan(50)
    }
  })

  it('gains nothing by asking many times at once', async () => {
    const app = await testApp({ limits })
    await keeperSignsIn(app)
    const answers = await Promise.all(
      Array.from({ length: 12 }, () => signIn(app, 'keeper', 'wrong as can be')),
    )
    expect(answers.filter((answer) => codeOf(answer) === 'SIGN_IN_FAILED')).toHaveLength(5)
  })

  it('is held to 20 attempts a minute from one address', async () => {
    const app = await testApp()
    await keeperSignsIn(app)
    const codes: string[] = []
    for (let k = 0; k < 21; k++) codes.push(codeOf(await signIn(app, `name ${k}`, 'wrong as can be')))
    expect(codes.filter((code) => code === 'SIGN_IN_FAILED')).toHaveLength(20)
    expect(codes.at(-1)).toBe('TOO_MANY_REQUESTS')
  })

  it('gives a new secret each time, and ends the one before in the same browser', async () => {
    const app = await testApp({ limits })
    const first = await keeperSignsIn(app)
    const names = { signInName: 'keeper', password: PASSWORD }
    const second = cookieOf(await ask(app, first, 'POST', '/api/sign-in', names))
    expect(second).not.toBe(first)
    expect(codeOf(await ask(app, first, 'GET', '/api/dogs'))).toBe('SIGN_IN_FIRST')
    expect((await ask(app, second, 'GET', '/api/dogs')).statusCode).toBe(200)
  })

  it('ends with signing out, for good, and takes a share that the browser had opened along', async () => {
    const app = await testApp({ limits })
    const keeper = await keeperSignsIn(app)
    const dogId = await addDogAs(app, keeper, 'Juniper')
    const sessionId = await addSessionAs(app, keeper, dogId)
    const share = await opensShare(app, keeper, dogId, { kind: 'live', sessionId, hours: 1 })
    const both = `${keeper}; ${share.cookie}`
    expect((await ask(app, both, 'GET', '/api/shared/session')).statusCode).toBe(200)
    const out = await ask(app, both, 'POST', '/api/sign-out')
    expect(out.statusCode).toBe(204)
    expect(out.cookies.map(({ name, value }) => [name, value])).toEqual([
      ['swaybook_sign_in', ''],
      ['swaybook_share', ''],
    ])
    // A copy of the cookies opens nothing either.
    expect(codeOf(await ask(app, both, 'GET', '/api/dogs'))).toBe('SIGN_IN_FIRST')
    expect(codeOf(await ask(app, both, 'GET', '/api/shared/session'))).toBe('SIGN_IN_FIRST')
    expect(out.headers['clear-site-data']).toBe('"cache"')
  })

  it('can be ended from another device: one, or all others', async () => {
    const app = await testApp({ limits })
    const here = await keeperSignsIn(app)
    const phone = cookieOf(await signIn(app, 'keeper', PASSWORD))
    const tablet = cookieOf(await signIn(app, 'keeper', PASSWORD))
    const list = (await ask(app, here, 'GET', '/api/me/sign-ins')).json<SignedInDevice[]>()
    expect(list.map(({ current }) => current)).toEqual([false, false, true])
    expect((await ask(app, here, 'DELETE', `/api/me/sign-ins/${list[0].id}`)).statusCode).toBe(204)
    expect(codeOf(await ask(app, tablet, 'GET', '/api/dogs'))).toBe('SIGN_IN_FIRST')
    expect((await ask(app, phone, 'GET', '/api/dogs')).statusCode).toBe(200)
    expect((await ask(app, here, 'DELETE', '/api/me/sign-ins')).statusCode).toBe(204)
    expect(codeOf(await ask(app, phone, 'GET', '/api/dogs'))).toBe('SIGN_IN_FIRST')
    expect((await ask(app, here, 'GET', '/api/dogs')).statusCode).toBe(200)
  })
})

describe('LockOut', () => {
  it('waits a minute after the fifth failure, doubles to fifteen minutes, and forgets after a success', () => {
    let nowMs = 1_000_000
    const lockOut = new LockOut(() => nowMs)
    for (let k = 0; k < 4; k++) {
      lockOut.attempted('name')
      expect(lockOut.waitS('name')).toBe(0)
    }
    const waits: number[] = []
    for (let k = 0; k < 6; k++) {
      expect(lockOut.attempted('name')).toBe(true)
      waits.push(lockOut.waitS('name'))
      nowMs += waits[k] * 1000
      expect(lockOut.waitS('name')).toBe(0)
    }
    expect(waits).toEqual([60, 120, 240, 480, 900, 900])
    lockOut.succeeded('name')
    expect(lockOut.attempted('name')).toBe(false)
    expect(lockOut.waitS('another')).toBe(0)
  })
})

describe('the second factor', () => {
  it('computes the codes of RFC 6238, and takes those of the step before and after', () => {
    // RFC 6238 appendix B, SHA-1, the last six of eight digits; the secret is the ASCII text 12345678901234567890.
    const secret = Secret.fromLatin1('12345678901234567890').base32
    const vectors = [
      [59, '287082'],
      [1111111109, '081804'],
      [1111111111, '050471'],
      [1234567890, '005924'],
      [2000000000, '279037'],
      [20000000000, '353130'],
    ] as const
    for (const [timeS, code] of vectors) {
      const step = Math.floor(timeS / 30)
      expect(stepOf(secret, code, timeS * 1000), String(timeS)).toBe(step)
      expect(stepOf(secret, code, (timeS + 30) * 1000)).toBe(step)
      expect(stepOf(secret, code, (timeS - 30) * 1000)).toBe(step)
      expect(stepOf(secret, code, (timeS + 90) * 1000)).toBeNull()
    }
  })

  it('is asked for once it is confirmed; no code and no recovery code works twice', async () => {
    const app = await testApp({ limits })
    const cookie = await keeperSignsIn(app)
    const { secret, uri } = (await ask(app, cookie, 'POST', '/api/me/second-factor')).json()
    expect(uri).toContain(`secret=${secret}`)
    // Only offered: nobody is asked yet.
    expect((await signIn(app, 'keeper', PASSWORD)).statusCode).toBe(200)
    const totp = new TOTP({ secret, algorithm: 'SHA1', digits: 6, period: 30 })
    const [now, next] = [totp.generate(), totp.generate({ timestamp: Date.now() + 30_000 })]
    const confirmed = await ask(app, cookie, 'PUT', '/api/me/second-factor', { code: now })
    const { recoveryCodes, person } = confirmed.json<SecondFactorSet>()
    expect(person!.hasSecondFactor).toBe(true)
    expect(new Set(recoveryCodes).size).toBe(8)

    expect(codeOf(await signIn(app, 'keeper', PASSWORD))).toBe('CODE_NEEDED')
    expect(codeOf(await signIn(app, 'keeper', 'not this one at all', next))).toBe('SIGN_IN_FAILED')
    expect(codeOf(await signIn(app, 'keeper', PASSWORD, now))).toBe('SIGN_IN_FAILED')
    expect((await signIn(app, 'keeper', PASSWORD, next)).statusCode).toBe(200)
    expect(codeOf(await signIn(app, 'keeper', PASSWORD, next))).toBe('SIGN_IN_FAILED')
    const typed = recoveryCodes[0].toUpperCase().replaceAll('-', ' ')
    expect((await signIn(app, 'keeper', PASSWORD, typed)).statusCode).toBe(200)
    expect(codeOf(await signIn(app, 'keeper', PASSWORD, recoveryCodes[0]))).toBe('SIGN_IN_FAILED')

    const wrong = { password: 'not this one at all' }
    expect(codeOf(await ask(app, cookie, 'DELETE', '/api/me/second-factor', wrong))).toBe('SIGN_IN_FAILED')
    const right = { password: PASSWORD }
    expect((await ask(app, cookie, 'DELETE', '/api/me/second-factor', right)).statusCode).toBe(204)
    expect((await signIn(app, 'keeper', PASSWORD)).statusCode).toBe(200)
  })
})

it('recovery codes have 112 bits or more, and are kept as hashes', async () => {
  const dataDir = await temporaryDir()
  const app = await testApp({ dataDir, limits })
  const cookie = await keeperSignsIn(app)
  const { secret } = (await ask(app, cookie, 'POST', '/api/me/second-factor')).json<{ secret: string }>()
  const code = new TOTP({ secret }).generate()
  const { recoveryCodes } = (
    await ask(app, cookie, 'PUT', '/api/me/second-factor', { code })
  ).json<SecondFactorSet>()
  const characters = recoveryCodes.join('').replaceAll('-', '')
  // Each of 192 is one of 31: hardly any is missing, and a length of 24 is 118 bits.
  expect(characters).toMatch(/^[a-hj-km-np-z2-9]{192}$/)
  expect(new Set(characters).size).toBeGreaterThan(25)
  expect((characters.length / 8) * Math.log2(31)).toBeGreaterThan(112)
  await app.close()
  const stored = await readFile(join(dataDir, 'swaybook.sqlite'), 'latin1')
  expect(stored).toContain('$argon2id$')
  for (const one of recoveryCodes) {
    expect(stored.includes(one) || stored.includes(one.replaceAll('-', ''))).toBe(false)
  }
})

describe('links', () => {
  it('invite once, as they say, and tell the same when they do not work', async () => {
    const app = await testApp({ limits })
    const keeper = await keeperSignsIn(app)
    const dogId = await addDogAs(app, keeper, 'Juniper')
    const made = await ask(app, keeper, 'POST', `/api/dogs/${dogId}/invitations`, { role: 'therapist' })
    const { secret, expiresAt } = made.json<InvitationMade>()
    const look = (text: string) => ask(app, '', 'POST', '/api/invitations/look', { secret: text })
    expect((await look(secret)).json()).toEqual({
      dogName: 'Juniper',
      role: 'therapist',
      invitedBy: 'Kit Keeper',
      expiresAt,
      reset: false,
    })
    const listed = await ask(app, keeper, 'GET', `/api/dogs/${dogId}/invitations`)
    expect(listed.json()).toMatchObject([{ role: 'therapist' }])
    expect(listed.body).not.toContain(secret)

    expect(codeOf(await ask(app, '', 'POST', '/api/invitations/accept', { secret }))).toBe('SIGN_IN_FIRST')
    const taken = { secret, signInName: 'KEEPER', name: 'Somebody', password: PASSWORD }
    expect(codeOf(await ask(app, '', 'POST', '/api/invitations/accept', taken))).toBe('SIGN_IN_NAME_TAKEN')
    const thea = { ...taken, signInName: 'thea', name: 'Thea' }
    const joined = await ask(app, '', 'POST', '/api/invitations/accept', thea)
    expect(joined.json()).toMatchObject({ person: { name: 'Thea', keeper: false }, via: 'sign-in' })
    const people = await ask(app, cookieOf(joined), 'GET', `/api/dogs/${dogId}/people`)
    expect(people.json()).toMatchObject([
      { name: 'Kit Keeper', role: 'owner' },
      { name: 'Thea', role: 'therapist' },
    ])
    // Sign-in names are for owners.
    expect(people.body).not.toContain('signInName')
    const [used, unknown] = [await look(secret), await look('A'.repeat(43))]
    expect(used.json()).toMatchObject({ code: 'INVITATION_NOT_VALID', status: 404 })
    expect(saidBy(used)).toBe(saidBy(unknown))
  })

  it('keep the higher of two roles', async () => {
    const app = await testApp({ limits })
    const keeper = await keeperSignsIn(app)
    const dogId = await addDogAs(app, keeper, 'Juniper')
    const made = await ask(app, keeper, 'POST', `/api/dogs/${dogId}/invitations`, { role: 'viewer' })
    const { secret } = made.json<InvitationMade>()
    expect((await ask(app, keeper, 'POST', '/api/invitations/accept', { secret })).statusCode).toBe(200)
    expect((await ask(app, keeper, 'GET', `/api/dogs/${dogId}/people`)).json()).toMatchObject([
      { role: 'owner' },
    ])
  })

  it('set a forgotten password, once, and end what the old one let in', async () => {
    const app = await testApp({ limits })
    const keeper = await keeperSignsIn(app)
    const dogId = await addDogAs(app, keeper, 'Juniper')
    const { id, cookie } = await joins(app, keeper, dogId, 'viewer', 'vin')
    const link = (await ask(app, keeper, 'POST', `/api/people/${id}/reset-link`)).json<ResetLink>()
    const { secret } = link
    const look = await ask(app, '', 'POST', '/api/invitations/look', { secret })
    expect(look.json()).toMatchObject({ reset: true, dogName: null, role: null })
    const password = 'a new one with more paws'
    expect((await ask(app, '', 'POST', '/api/invitations/accept', { secret, password })).statusCode).toBe(200)
    expect(codeOf(await ask(app, cookie, 'GET', '/api/dogs'))).toBe('SIGN_IN_FIRST')
    expect(codeOf(await signIn(app, 'vin', PASSWORD))).toBe('SIGN_IN_FAILED')
    expect((await signIn(app, 'vin', password)).statusCode).toBe(200)
    const again = await ask(app, '', 'POST', '/api/invitations/accept', { secret, password })
    expect(codeOf(again)).toBe('INVITATION_NOT_VALID')
  })
})

it('a paired phone records on after a restart of the server, and never anything else', async () => {
  const dataDir = await temporaryDir()
  const first = await testApp({ dataDir, limits })
  const keeper = await keeperSignsIn(first)
  const dogId = await addDogAs(first, keeper, 'Juniper')
  const id = await addSessionAs(first, keeper, dogId)
  const other = await addSessionAs(first, keeper, dogId)
  const { secret } = (await ask(first, keeper, 'POST', `/api/sessions/${id}/pairing`)).json<{
    secret: string
  }>()
  const phone = cookieOf(await ask(first, '', 'POST', '/api/pairings/redeem', { secret }))
  const words = { notes: 'for the people of the dog' }
  const headers = { cookie: keeper, 'if-match': '*' }
  await call(first, { method: 'PATCH', url: `/api/sessions/${id}`, headers, payload: words })
  await first.close()

  const app = await testApp({ dataDir, limits })
  const change = (session: string, payload: object) =>
    call(app, {
      method: 'PATCH',
      url: `/api/sessions/${session}`,
      headers: { cookie: phone, 'if-match': '*' },
      payload,
    })
  const mounted = await change(id, { mount: 'y=cranial,z=dorsal' })
  expect(mounted.json()).toMatchObject({ id, mount: 'y=cranial,z=dorsal' })
  expect(await app.store.records.sessionNotes(id)).toBe(words.notes)
  expect(mounted.body).not.toContain(words.notes)
  expect(codeOf(await change(id, { notes: 'from the phone' }))).toBe('SIGN_IN_FIRST')
  expect(codeOf(await change(other, { mount: 'auto' }))).toBe('SIGN_IN_FIRST')
  expect(codeOf(await ask(app, phone, 'GET', `/api/sessions/${id}`))).toBe('SIGN_IN_FIRST')
})

it('no secret is in the log, in the trails, in an address or in the data folder', async () => {
  const dataDir = await temporaryDir()
  const written: string[] = []
  const write = vi.spyOn(process.stderr, 'write').mockImplementation((chunk) => {
    written.push(String(chunk))
    return true
  })
  const secrets: string[] = [PASSWORD]
  let trails = ''
  try {
    const app = await testApp({ dataDir, limits, logLevel: 'trace' })
    const keeper = await keeperSignsIn(app)
    const dogId = await addDogAs(app, keeper, 'Juniper')
    const sessionId = await addSessionAs(app, keeper, dogId)
    const { cookie } = await joins(app, keeper, dogId, 'viewer', 'vin')
    const share = await opensShare(app, keeper, dogId, { kind: 'live', sessionId, hours: 1 })
    const pairing = await ask(app, keeper, 'POST', `/api/sessions/${sessionId}/pairing`)
    const redeemed = await ask(app, '', 'POST', '/api/pairings/redeem', { secret: pairing.json().secret })
    const invited = await ask(app, keeper, 'POST', `/api/dogs/${dogId}/invitations`, { role: 'viewer' })
    const { secret: offered } = (await ask(app, keeper, 'POST', '/api/me/second-factor')).json()
    const code = new TOTP({ secret: offered }).generate()
    const codes = (await ask(app, keeper, 'PUT', '/api/me/second-factor', { code })).json<SecondFactorSet>()
    await signIn(app, 'a password in the wrong field', 'wrong as can be')
    secrets.push(
      ...[keeper, cookie, share.cookie, cookieOf(redeemed)].map((text) => text.split('=')[1]),
      share.secret,
      pairing.json().secret,
      invited.json<InvitationMade>().secret,
      ...codes.recoveryCodes,
      'a password in the wrong field',
    )
    trails = (await ask(app, keeper, 'GET', '/api/audit?limit=500')).body
    trails += (await ask(app, keeper, 'GET', `/api/dogs/${dogId}/audit?limit=500`)).body
    for (const action of ['invitation.made', 'share.opened', 'sign-in.failed', 'second-factor.set']) {
      expect(trails).toContain(action)
    }
    await app.close()
  } finally {
    write.mockRestore()
  }
  const log = written.join('')
  expect(log).toContain('/api/shares/open')
  const stored = await readFile(join(dataDir, 'swaybook.sqlite'), 'latin1')
  expect(stored).toContain('$argon2id$')
  for (const secret of secrets) {
    for (const [place, text] of Object.entries({ log, trails, stored })) {
      expect(text.includes(secret), `${secret.slice(0, 6)}… in ${place}`).toBe(false)
    }
  }
}, 60_000)
