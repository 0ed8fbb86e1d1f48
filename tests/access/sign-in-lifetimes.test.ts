import { expect, it, onTestFinished, vi } from 'vitest'
import { hashOf } from '#server/access/cookies'
import { Visitors } from '#server/access/visitors'
import { DEFAULT_LIMITS } from '#server/config'
import { MAX_SIGN_INS } from '#server/people/sign-ins'
import { Passwords } from '#server/people/passwords'
import type { InvitationMade, SignedInDevice } from '#protocol/people'
import { testApp } from '../helpers/build-app.ts'
import { addDogAs, ask, cookieOf, keeperSignsIn, PASSWORD } from './cast.ts'

const DAY_MS = 86_400_000
const limits = { ...DEFAULT_LIMITS, signInsPerMinute: 1000 }

it('a sign-in is over after 14 days without use, and after 90 however much it is used', async () => {
  const app = await testApp()
  const cookie = await keeperSignsIn(app)
  const credentials = { signIn: hashOf(cookie.split('=')[1]), share: null, paired: [] }
  let nowMs = Date.now()
  const visitors = new Visitors(app.store.people, { onlyThisComputer: true, nowMs: () => nowMs })
  const signedIn = async () => (await visitors.visitor(credentials)).person !== null
  const startMs = nowMs
  for (let days = 13; days < 90; days += 13) {
    nowMs = startMs + days * DAY_MS
    expect([days, await signedIn()]).toEqual([days, true])
  }
  nowMs = startMs + 90 * DAY_MS + 1000
  expect(await signedIn()).toBe(false)

  // Another one, left alone.
  const names = { signInName: 'keeper', password: PASSWORD }
  const idle = {
    ...credentials,
    signIn: hashOf(cookieOf(await ask(app, '', 'POST', '/api/sign-in', names)).split('=')[1]),
  }
  const idleSince = Date.now()
  const idleIn = async () => (await visitors.visitor(idle)).person !== null
  nowMs = idleSince + 14 * DAY_MS - 60_000
  expect(await idleIn()).toBe(true)
  nowMs += 14 * DAY_MS + 60_000
  expect(await idleIn()).toBe(false)
})

it('an account has twenty sign-ins at most: with the next the one not used for longest ends', async () => {
  const app = await testApp({ limits })
  const oldest = await keeperSignsIn(app)
  const names = { signInName: 'keeper', password: PASSWORD }
  const cookies = [oldest]
  for (let k = 1; k <= MAX_SIGN_INS; k++)
    cookies.push(cookieOf(await ask(app, '', 'POST', '/api/sign-in', names)))
  const seen = await Promise.all(
    cookies.map(async (cookie) => (await ask(app, cookie, 'GET', '/api/dogs')).statusCode),
  )
  expect(seen).toEqual([401, ...Array.from({ length: MAX_SIGN_INS }, () => 200)])
  const list = (await ask(app, cookies.at(-1)!, 'GET', '/api/me/sign-ins')).json<SignedInDevice[]>()
  expect(list).toHaveLength(MAX_SIGN_INS)
}, 60_000)

it('a new password takes the one before, and ends the other sign-ins', async () => {
  const app = await testApp({ limits })
  const here = await keeperSignsIn(app)
  const names = { signInName: 'keeper', password: PASSWORD }
  const elsewhere = cookieOf(await ask(app, '', 'POST', '/api/sign-in', names))
  const change = (body: object) => ask(app, here, 'PUT', '/api/me/password', body)
  const password = 'other paws on a soft pad'
  for (const body of [{ password }, { password, current: 'not this one at all' }]) {
    expect((await change(body)).json()).toMatchObject({ code: 'SIGN_IN_FAILED', status: 401 })
  }
  expect((await ask(app, elsewhere, 'GET', '/api/dogs')).statusCode).toBe(200)
  const changed = await change({ password, current: PASSWORD })
  expect(changed.statusCode).toBe(200)
  expect((await ask(app, elsewhere, 'GET', '/api/dogs')).statusCode).toBe(401)
  expect((await ask(app, here, 'GET', '/api/dogs')).statusCode).toBe(401)
  expect((await ask(app, cookieOf(changed), 'GET', '/api/dogs')).statusCode).toBe(200)
})

it('a password is compared whole and as it was typed: letters, spaces and the last of 128 characters count', async () => {
  const passwords = new Passwords()
  const long = `${'a dog on a foam pad, '.repeat(6)}x7`.slice(0, 128).padEnd(128, 'q')
  const stored = await passwords.hash(long)
  expect(await passwords.verify(stored, long)).toBe(true)
  for (const other of [
    `${long.slice(0, 127)}Q`,
    long.slice(0, 127),
    long.toUpperCase(),
    `${long} `,
    ` ${long}`,
  ]) {
    expect(await passwords.verify(stored, other)).toBe(false)
  }
})

it('what has ended is taken out of the database within the hour: sign-ins, and links that nobody used', async () => {
  vi.useFakeTimers({ toFake: ['setInterval', 'Date'] })
  onTestFinished(() => void vi.useRealTimers())
  const app = await testApp({ limits })
  const keeper = await keeperSignsIn(app)
  const hash = hashOf(keeper.split('=')[1])
  const dogId = await addDogAs(app, keeper, 'Juniper')
  const made = await ask(app, keeper, 'POST', `/api/dogs/${dogId}/invitations`, { role: 'viewer' })
  const link = hashOf(made.json<InvitationMade>().secret)
  const early = new Date(0)
  const { passes, invitations } = app.store.people
  expect(await invitations.find(link, early)).not.toBeNull()

  vi.advanceTimersByTime(8 * DAY_MS)
  await expect.poll(() => invitations.find(link, early)).toBeNull()
  expect(await passes.find(hash)).not.toBeNull()
  vi.advanceTimersByTime(7 * DAY_MS)
  await expect.poll(() => passes.find(hash)).toBeNull()
})
