import { once } from 'node:events'
import { request as httpRequest } from 'node:http'
import { readFileSync } from 'node:fs'
import { TOTP } from 'otpauth'
import { expect, it } from 'vitest'
import { LOG_EVENTS } from '#server/log/events'
import type { LogEvent } from '#server/log/events'
import { temporaryDir } from '../helpers/build-app.ts'
import { frame, helloMessage, LiveClient } from '../helpers/live-client.ts'
import { runServer } from '../helpers/server-process.ts'

/** What must be nowhere in the log: passwords, secrets, codes, cookies, words of people. */
const secrets: string[] = []
const marked = (text: string) => {
  secrets.push(text)
  return text
}
const PASSWORD = marked('mark-of-a-first password')
const SECOND = marked('mark-of-a-second password')
const FORGOTTEN = marked('mark-of-a-third password')
const NOTE = marked('mark of a note\n{"level":30,"event":"sign-in.done"}')
const NAME = marked('Mark\u2028of\na Name')

interface Answer {
  readonly status: number
  readonly cookie: string
  readonly json: Record<string, string>
}

/** As fetch, with any header: browsers set some that fetch does not let through. */
function ask(
  url: string,
  method: string,
  cookie: string,
  body?: object,
  headers: Record<string, string> = {},
) {
  const text = body === undefined ? undefined : JSON.stringify(body)
  return new Promise<Answer>((resolve, reject) => {
    const request = httpRequest(
      url,
      {
        method,
        agent: false,
        headers: {
          ...(cookie !== '' && { cookie }),
          ...(text !== undefined && {
            'content-type': 'application/json',
            'content-length': String(Buffer.byteLength(text)),
          }),
          ...headers,
        },
      },
      (response) => {
        const chunks: Buffer[] = []
        response.on('data', (chunk: Buffer) => chunks.push(chunk))
        response.on('end', () => {
          const set = (response.headers['set-cookie'] ?? []).map((line) => line.split(';')[0])
          for (const one of set) if (one.split('=')[1]) marked(one.split('=')[1])
          const said = Buffer.concat(chunks).toString()
          resolve({
            status: response.statusCode!,
            cookie: set.join('; '),
            json: said.startsWith('{') ? (JSON.parse(said) as Record<string, string>) : {},
          })
        })
      },
    )
    request.on('error', reject)
    request.end(text)
  })
}

it('tells of all that matters, in known events, and of no secret, through everything a person does', async () => {
  const dataDir = await temporaryDir()
  const { child, output, exited } = await runServer({ SWAYBOOK_DATA: dataDir, LOG_LEVEL: 'trace' })
  await once(child.stdout, 'data')
  const url = /http:\S+/.exec(output.out)![0]
  const to = (path: string) => `${url}/api/${path}`

  // Coming in.
  const first = await ask(to('me/password'), 'PUT', '', { password: PASSWORD, signInName: 'kit', name: NAME })
  const keeper = first.cookie
  await ask(to('sign-in'), 'POST', '', { signInName: 'kit', password: marked('mark-of-a-wrong one') })
  const signIn = await ask(to('sign-in'), 'POST', '', { signInName: 'kit', password: PASSWORD })
  expect(signIn.status).toBe(200)
  const dogId = (await ask(to('dogs'), 'POST', keeper, { name: 'Juniper', notes: NOTE })).json.id
  const otherId = (await ask(to('dogs'), 'POST', keeper, { name: 'Bracken' })).json.id

  // Invited, joined, promoted.
  const invited = await ask(to(`dogs/${dogId}/invitations`), 'POST', keeper, { role: 'viewer', note: NOTE })
  const secret = marked(invited.json.secret)
  await ask(to('invitations/look'), 'POST', '', { secret })
  const joining = { secret, signInName: 'thea', name: 'Thea', password: SECOND }
  const joined = await ask(to('invitations/accept'), 'POST', '', joining)
  expect(joined.status).toBe(200)
  const people = (await (
    await fetch(to(`dogs/${dogId}/people`), { headers: { cookie: keeper } })
  ).json()) as { personId: string; role: string }[]
  const thea = people.find(({ role }) => role === 'viewer')!.personId
  // Refused: a role too low, a dog of others, the keeper's own, nobody, and a cookie of nobody.
  const refused = await ask(to(`dogs/${dogId}`), 'DELETE', joined.cookie)
  expect(refused).toMatchObject({ status: 403 })
  expect((await ask(to(`dogs/${otherId}`), 'GET', joined.cookie)).status).toBe(404)
  expect((await ask(to('people'), 'GET', joined.cookie)).status).toBe(403)
  expect((await ask(to('dogs'), 'GET', '')).status).toBe(401)
  const madeUp = marked('m'.repeat(43))
  expect((await ask(to('dogs'), 'GET', `swaybook_sign_in=${madeUp}`)).status).toBe(401)
  await ask(to(`dogs/${dogId}/people/${thea}`), 'PUT', keeper, { role: 'therapist' })

  // Links that show something.
  const sessionId = (await ask(to('sessions'), 'POST', joined.cookie, { dogId, sensor: 'phone' })).json.id
  const live = { kind: 'live', sessionId, hours: 1 }
  const share = await ask(to(`dogs/${dogId}/shares`), 'POST', joined.cookie, live)
  const opened = await ask(to('shares/open'), 'POST', '', { secret: marked(share.json.secret) })
  expect(opened.status).toBe(200)
  const watching = new LiveClient(`${url.replace('http', 'ws')}/api/live/watch?session=${sessionId}`, {
    headers: { cookie: opened.cookie },
  })
  await watching.opened()
  await ask(to(`dogs/${dogId}/shares/${share.json.id}`), 'DELETE', joined.cookie)
  expect((await watching.closed).code).toBe(1008)

  // A phone in the harness, and somebody who may not.
  const pairing = await ask(to(`sessions/${sessionId}/pairing`), 'POST', joined.cookie)
  const phone = await ask(to('pairings/redeem'), 'POST', '', { secret: marked(pairing.json.secret) })
  const sendUrl = `${url.replace('http', 'ws')}/api/live/send`
  const sender = await new LiveClient(sendUrl, { headers: { cookie: phone.cookie } }).opened()
  sender.send(helloMessage(sessionId))
  await sender.next('welcome')
  sender.socket.send(frame(0, 10))
  await sender.next('ack')
  sender.socket.send('no JSON at all')
  await sender.closed
  const stranger = await new LiveClient(sendUrl).opened()
  stranger.send(helloMessage(sessionId))
  expect((await stranger.closed).code).toBe(1008)

  // A file, and one that is too large.
  const form = new FormData()
  const trace = readFileSync(new URL('../../sample-traces/foam-hands-off.csv', import.meta.url))
  form.set('file', new Blob([trace]), 'foam.csv')
  const headers = { cookie: joined.cookie }
  expect((await fetch(to(`dogs/${dogId}/traces`), { method: 'POST', body: form, headers })).status).toBe(201)
  const large = { name: 'x'.repeat(70_000) }
  // Refused before it is read, so that the connection may be cut before the answer is: the log has it either way.
  await ask(to('dogs'), 'POST', joined.cookie, large).catch((error: Error) => error)

  // A second factor, there and gone.
  const offer = await ask(to('me/second-factor'), 'POST', joined.cookie)
  const totp = new TOTP({ secret: marked(offer.json.secret) })
  const code = marked(totp.generate())
  const set = await ask(to('me/second-factor'), 'PUT', joined.cookie, { code })
  for (const one of set.json.recoveryCodes as unknown as string[]) marked(one)
  const withoutCode = await ask(to('sign-in'), 'POST', '', { signInName: 'thea', password: SECOND })
  expect(withoutCode.json.code).toBe('CODE_NEEDED')
  await ask(to('me/second-factor'), 'DELETE', joined.cookie, { password: SECOND })

  // A forgotten password, a lock, and out again.
  const reset = await ask(to(`people/${thea}/reset-link`), 'POST', keeper)
  const renewed = { secret: marked(reset.json.secret), password: FORGOTTEN }
  const back = await ask(to('invitations/accept'), 'POST', '', renewed)
  expect(back.status).toBe(200)
  await ask(to('me'), 'PATCH', back.cookie, { name: 'Thea of the pads' })
  await ask(to('me/sign-ins'), 'DELETE', back.cookie)
  await ask(to('sign-out'), 'POST', back.cookie)
  for (let k = 0; k < 5; k++) await ask(to('sign-in'), 'POST', '', { signInName: 'thea', password: NOTE })
  expect((await ask(to('sign-in'), 'POST', '', { signInName: 'thea', password: FORGOTTEN })).status).toBe(429)
  await ask(to(`people/${thea}`), 'PATCH', keeper, { locked: true })
  await ask(to(`people/${thea}`), 'PATCH', keeper, { locked: false })

  // Secrets where they do not belong, other sites, wrong names, too much.
  await ask(`${url}/join/${secret}?secret=${secret}#${secret}`, 'GET', keeper)
  await ask(to(`invitations/${secret}`), 'GET', keeper, undefined, { authorization: `Bearer ${secret}` })
  await ask(to('dogs'), 'POST', keeper, { name: 'x' }, { origin: 'https://elsewhere.example' })
  await ask(to('dogs'), 'GET', keeper, undefined, { host: 'rebound.example' })
  await ask(to('dogs?limit=1&limit=2'), 'POST', keeper, { nothing: NOTE })
  for (let k = 0; k < 11; k++) await ask(to('pairings/redeem'), 'POST', '', { secret: madeUp })
  await ask(to(`dogs/${dogId}/people/${thea}`), 'DELETE', keeper)
  await ask(to(`people/${thea}`), 'DELETE', keeper)
  await ask(to(`dogs/${otherId}`), 'DELETE', keeper)

  child.kill('SIGTERM')
  expect(await exited).toBe(0)
  const lines = output.err.trim().split('\n')
  const entries = lines.map((line) => JSON.parse(line) as Record<string, unknown> & { event: LogEvent })

  // Secrets: none of them, as it is or as JSON writes it.
  expect(secrets.length).toBeGreaterThan(25)
  for (const one of secrets) {
    const written = [one, JSON.stringify(one).slice(1, -1), encodeURIComponent(one)]
    const leaks = lines.filter((line) => written.some((text) => line.includes(text)))
    expect(leaks, one).toEqual([])
  }
  // Each line is of an event there is, at its level, with its fields.
  const always = ['level', 'time', 'pid', 'hostname', 'event', 'msg', 'requestId']
  const levels = { debug: 20, info: 30, warn: 40, error: 50, fatal: 60 }
  for (const entry of entries.filter(({ event }) => (event as string) !== 'library')) {
    const { level, fields } = LOG_EVENTS[entry.event]
    expect(entry.level, entry.event).toBe(levels[level])
    const known = [...always, ...fields] as string[]
    expect([entry.event, ...Object.keys(entry).filter((key) => !known.includes(key))]).toEqual([entry.event])
  }
  expect(entries.filter(({ level }) => (level as number) >= 50)).toEqual([])
  // And what happened is there.
  const happened = new Set(entries.map(({ event }) => event))
  const expected: LogEvent[] = [
    'server.listening',
    ...['sign-in.done', 'sign-in.failed', 'sign-in.locked', 'sign-in.over', 'sign-in.ended', 'sign-out'],
    ...['password.changed', 'password.reset', 'reset-link.made', 'second-factor.on', 'second-factor.off'],
    ...['account.joined', 'account.renamed', 'account.locked', 'account.unlocked', 'account.removed'],
    ...['role.changed', 'role.removed', 'invitation.made', 'invitation.used'],
    ...['share.made', 'share.opened', 'share.ended', 'pairing.made', 'pairing.used', 'dog.deleted'],
    ...['access.nobody', 'access.refused', 'link.refused', 'socket.refused', 'socket.misused'],
    ...['cross-site.refused', 'address.refused', 'limit.reached', 'input.refused', 'upload.refused'],
    ...['request.begun', 'request.done', 'socket.opened', 'socket.closed'],
  ] as LogEvent[]
  expect(expected.filter((event) => !happened.has(event))).toEqual([])

  // The number of a refusal finds all lines of its request.
  const ofRequest = entries.filter(({ requestId }) => requestId === refused.json.requestId)
  expect(ofRequest.map(({ event }) => event)).toEqual(['request.begun', 'access.refused', 'request.done'])
  const aside = ['server.listening', 'library', 'socket.refused']
  expect(entries.filter((entry) => !('requestId' in entry) && !aside.includes(entry.event))).toEqual([])
  // A dog of others is refused as a role is, and names no more than its route.
  expect(entries).toContainEqual(
    expect.objectContaining({ event: 'access.refused', problem: 'DOG_NOT_FOUND', route: '/api/dogs/:dogId' }),
  )
}, 120_000)
