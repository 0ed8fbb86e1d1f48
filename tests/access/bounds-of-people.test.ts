import { expect, it } from 'vitest'
import { DEFAULT_LIMITS } from '#server/config'
import type { Limits } from '#server/config'
import type { App } from '#server/app'
import { listeningApp, temporaryDir, testApp } from '../helpers/build-app.ts'
import { LiveClient } from '../helpers/live-client.ts'
import { addDogAs, addSessionAs, ask, cookieOf, joins, keeperSignsIn, opensShare } from './cast.ts'

const MANY = Object.fromEntries(
  Object.entries(DEFAULT_LIMITS)
    .filter(([name]) => name.endsWith('PerMinute'))
    .map(([name]) => [name, 100_000]),
)

/** Two people, a share link that two browsers opened, and a phone, then the same server behind a proxy. */
async function behindProxy(limits: Partial<Limits>) {
  const dataDir = await temporaryDir()
  const before = await testApp({ dataDir, limits: MANY })
  const keeper = await keeperSignsIn(before)
  const dogId = await addDogAs(before, keeper, 'Juniper')
  const sessionId = await addSessionAs(before, keeper, dogId)
  const { cookie: thea } = await joins(before, keeper, dogId, 'therapist', 'thea')
  const share = await opensShare(before, keeper, dogId, { kind: 'live', sessionId, hours: 1 })
  const again = await ask(before, '', 'POST', '/api/shares/open', { secret: share.secret })
  const { secret } = (await ask(before, keeper, 'POST', `/api/sessions/${sessionId}/pairing`)).json()
  const phone = cookieOf(await ask(before, '', 'POST', '/api/pairings/redeem', { secret }))
  await before.close()
  const listening = await listeningApp({
    dataDir,
    exposure: 'proxy',
    publicOrigins: ['https://dogs.example'],
    proxyAddresses: ['loopback'],
    limits,
  })
  // Over HTTPS cookies have the prefix.
  const secure = (cookie: string) => `__Host-${cookie}`
  return {
    ...listening,
    dogId,
    cookies: {
      keeper: secure(keeper),
      thea: secure(thea),
      share: secure(share.cookie),
      sameShare: secure(cookieOf(again)),
      phone: secure(phone),
      nobody: '',
    },
  }
}

const from = (address: string, cookie: string) => ({
  host: 'dogs.example',
  'x-forwarded-for': address,
  'x-forwarded-proto': 'https',
  ...(cookie !== '' && { cookie }),
})
const address = (k: number) => `203.0.113.${k}`

async function statuses(app: App, url: string, asked: readonly (readonly [number, string])[]) {
  const seen: number[] = []
  for (const [k, cookie] of asked)
    seen.push((await app.inject({ url, headers: from(address(k), cookie) })).statusCode)
  return seen
}

it('requests are counted for the person, from however many addresses, and not for those beside them', async () => {
  const { app, cookies } = await behindProxy({ requestsPerMinute: 3, peoplePerAddress: 100 })
  const { keeper, thea, share, sameShare, phone, nobody } = cookies
  const me = '/api/me'
  const ofKeeper = await statuses(
    app,
    me,
    [1, 2, 3, 4, 5].map((k) => [k, keeper] as const),
  )
  expect(ofKeeper).toEqual([200, 200, 200, 429, 429])
  // Others at one of these addresses, each with a bound of their own.
  for (const cookie of [thea, phone, nobody]) {
    expect(
      await statuses(
        app,
        me,
        [1, 1, 1, 1].map((k) => [k, cookie] as const),
      ),
    ).toEqual([200, 200, 200, 429])
  }
  // One link, whoever has it and wherever.
  expect(
    await statuses(app, me, [
      [6, share],
      [7, sameShare],
      [8, share],
      [9, sameShare],
    ]),
  ).toEqual([200, 200, 200, 429])
  // Nobody is the address.
  expect(await statuses(app, me, [[2, nobody]])).toEqual([200])
})

it('all people of one address have a multiple together, counted before anybody is looked up', async () => {
  const { app, cookies } = await behindProxy({ requestsPerMinute: 3, peoplePerAddress: 2 })
  const { keeper, thea, share } = cookies
  const asked = [keeper, keeper, keeper, thea, thea, thea, share].map((cookie) => [1, cookie] as const)
  expect(await statuses(app, '/api/me', asked)).toEqual([200, 200, 200, 200, 200, 200, 429])
  expect(await statuses(app, '/api/me', [[2, share]])).toEqual([200])
})

it('downloads have a bound of their own per person, which says when to come back', async () => {
  const { app, cookies, dogId } = await behindProxy({ exportsPerMinute: 2 })
  const { keeper, thea } = cookies
  const url = `/api/dogs/${dogId}/fhir.json`
  const ofKeeper = await statuses(
    app,
    url,
    [1, 2, 3].map((k) => [k, keeper] as const),
  )
  expect(ofKeeper).toEqual([200, 200, 429])
  expect(await statuses(app, url, [[1, thea]])).toEqual([200])
  expect(await statuses(app, '/api/me', [[1, keeper]])).toEqual([200])
  const { headers } = await app.inject({ url, headers: from(address(4), keeper) })
  expect(Number(headers['retry-after'])).toBeGreaterThan(0)
})

it('live sockets are counted for the person and the link, from however many addresses', async () => {
  const { wsUrl, cookies } = await behindProxy({ socketsEach: 2 })
  const open = (k: number, cookie: string) =>
    new LiveClient(`${wsUrl}/api/live/send`, { headers: from(address(k), cookie) }).opened()
  const [first] = await Promise.all([open(1, cookies.keeper), open(2, cookies.keeper)])
  await expect(open(3, cookies.keeper)).rejects.toThrow('429')
  await Promise.all([open(1, cookies.thea), open(1, cookies.thea), open(1, cookies.nobody)])
  await Promise.all([open(4, cookies.share), open(5, cookies.sameShare)])
  await expect(open(6, cookies.share)).rejects.toThrow('429')
  first.socket.close()
  await first.closed
  await expect.poll(() => open(3, cookies.keeper).then(() => 'opened', String)).toBe('opened')
})
