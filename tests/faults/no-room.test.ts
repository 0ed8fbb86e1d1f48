import { execFileSync, spawnSync } from 'node:child_process'
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it, onTestFinished, vi } from 'vitest'
import { sampleTrace } from '../export/made-dog.ts'
import { hashOf } from '#server/access/cookies'
import { Visitors } from '#server/access/visitors'
import { call, temporaryDir, testApp } from '../helpers/build-app.ts'
import { madePlan } from '../helpers/made-plan.ts'
import { startServer } from '../helpers/running-server.ts'
import { post } from './api.ts'
import { SteadySender } from './steady-sender.ts'
import { tmpfsDisk } from './small-disk.ts'

vi.setConfig({ testTimeout: 180_000 })
const POLL = { timeout: 60_000, interval: 50 }
const NO_ROOM = {
  status: 507,
  code: 'DISK_FAILED',
  title: 'The disk takes nothing',
  detail: expect.stringMatching(
    /^Nothing more can be stored: .* Make room, or make it writable, and try again\.$/,
  ),
}

/** Said loudly; in CI it is a failure. */
function notRun(what: string): void {
  if (process.env.CI) throw new Error(`not run: ${what}`)
  process.stderr.write(`\n*** NOT RUN: ${what} ***\n`)
}

it('with a disk that takes not a byte every route that writes says the same, those that read go on, and it passes', async () => {
  if (process.platform !== 'linux' || spawnSync('prlimit', ['--version']).status !== 0) {
    return notRun('every route on a full disk (prlimit is missing)')
  }
  const server = await startServer({ dataFolder: await temporaryDir() })
  onTestFinished(() => server.kill())
  const { url } = server
  const ask = async (method: string, path: string, body?: object | FormData, headers: object = {}) => {
    const isForm = body instanceof FormData
    const answer = await fetch(`${url}${path}`, {
      method,
      headers: { ...(body && !isForm && { 'content-type': 'application/json' }), ...headers },
      body: isForm ? body : body && JSON.stringify(body),
    })
    const text = await answer.text()
    return { status: answer.status, type: answer.headers.get('content-type') ?? '', text }
  }
  const dog = (await post(`${url}/api/dogs`, { name: 'Juniper' })).id
  const trace = (name: string, content: string | Buffer<ArrayBuffer>) => {
    const form = new FormData()
    form.set('file', new Blob([content]), name)
    return form
  }
  const uploaded = await ask(
    'POST',
    `/api/dogs/${dog}/traces`,
    trace('phone.csv', await sampleTrace('phone.csv')),
  )
  const session = (JSON.parse(uploaded.text) as { id: string }).id
  const archive = Buffer.from(await (await fetch(`${url}/api/dogs/${dog}/export.zip`)).arrayBuffer())
  const live = (await post(`${url}/api/sessions`, { dogId: dog, sensor: 'simulated harness' })).id
  const sender = new SteadySender({ wsUrl: () => url.replace('http', 'ws'), session: live, seed: 1 })
  onTestFinished(() => sender.stop())
  void sender.run()
  await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(500)

  const limit = (bytes: string) => execFileSync('prlimit', ['--pid', String(server.pid), `--fsize=${bytes}:`])
  limit('1')
  await expect.poll(() => sender.errors, POLL).toContain('STORE_FAILED')
  const any = { 'if-match': '*' }
  const none = { 'if-none-match': '*' }
  const diary = {
    kind: 'note',
    fromDate: '2026-03-01',
    untilDate: null,
    title: 'calm',
    dose: null,
    note: null,
  }
  const writes: readonly (readonly [string, string, (object | FormData)?, object?])[] = [
    ['POST', '/api/dogs', { name: 'Bramble' }],
    ['PATCH', `/api/dogs/${dog}`, { breed: 'lurcher' }, any],
    ['DELETE', `/api/dogs/${dog}`],
    ['PUT', `/api/dogs/${dog}/plan`, madePlan(), none],
    ['POST', `/api/dogs/${dog}/diary`, diary],
    ['POST', '/api/sessions', { dogId: dog, sensor: 'bluetooth' }],
    ['PATCH', `/api/sessions/${session}`, { notes: 'calm' }, any],
    ['DELETE', `/api/sessions/${session}`],
    ['POST', `/api/sessions/${live}/finish`],
    ['PUT', `/api/sessions/${session}/check-in`, { answer: 'normal' }],
    ['POST', `/api/sessions/${session}/marks`, { atS: 5, kind: 'note' }],
    ['POST', `/api/dogs/${dog}/traces`, trace('quiet.csv', await sampleTrace('quiet-stand.csv'))],
    ['POST', '/api/imports', trace('dog.zip', archive)],
    ['POST', `/api/dogs/${dog}/invitations`, { role: 'viewer' }],
  ]
  for (const [method, path, body, headers] of writes) {
    const { type, text } = await ask(method, path, body, headers)
    expect(type, `${method} ${path}: ${text}`).toMatch('application/problem+json')
    expect(JSON.parse(text), `${method} ${path}`).toMatchObject(NO_ROOM)
  }
  for (const path of [
    '/api/dogs',
    `/api/sessions/${session}`,
    `/api/sessions/${session}/report`,
    `/api/sessions/${session}/trace.csv`,
    `/api/dogs/${dog}/export.zip`,
    `/api/dogs/${dog}/trends?measure=bestHoldS`,
  ]) {
    expect((await ask('GET', path)).status, path).toBe(200)
  }
  const unready = await ask('GET', '/api/ready')
  expect(unready.status).toBe(503)
  expect(unready.text).toMatch(/Nothing more can be stored/)

  limit('unlimited')
  const before = sender.acknowledged
  await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(before)
  await expect.poll(async () => (await ask('GET', '/api/ready')).status, POLL).toBe(200)
  expect((await ask('PATCH', `/api/sessions/${session}`, { notes: 'calm' }, any)).status).toBe(200)
})

it('a trace that finds no room on a really small disk is refused as a whole, and can be sent again', async () => {
  const disk = tmpfsDisk(await temporaryDir())
  if (!disk) return notRun('an upload on a really small disk (mounting a tmpfs needs root)')
  const server = await startServer({ dataFolder: disk.dataFolder })
  onTestFinished(() => server.kill())
  const dog = (await post(`${server.url}/api/dogs`, { name: 'Juniper' })).id
  // Half an hour of noise, which does not compress: more than what is left of the disk.
  const rows = Array.from({ length: 100_000 }, (_, i) => {
    const axis = (k: number) => ((Math.imul(i * 3 + k, 2654435761) >>> 0) / 2 ** 32).toFixed(9)
    return `${(i / 50).toFixed(2)},${axis(0)},${axis(1)},9.8${axis(2).slice(2)}`
  })
  const send = () => {
    const form = new FormData()
    form.set('file', new Blob([`t_s,ax_mps2,ay_mps2,az_mps2\n${rows.join('\n')}\n`]), 'long.csv')
    return fetch(`${server.url}/api/dogs/${dog}/traces`, { method: 'POST', body: form })
  }
  disk.fill(server.pid)
  const refused = await send()
  expect(await refused.json()).toMatchObject(NO_ROOM)
  const listed = (await (await fetch(`${server.url}/api/sessions?dogId=${dog}`)).json()) as {
    sessions: object[]
  }
  expect(listed.sessions).toEqual([])
  disk.empty(server.pid)
  expect((await send()).status).toBe(201)
})

it('a read-only data folder is refused at the start, in one line that names it', async () => {
  const disk = join(await temporaryDir(), 'disk')
  mkdirSync(disk)
  if (spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=8m', 'tmpfs', disk]).status !== 0) {
    return notRun('a start on a read-only disk (mounting a tmpfs needs root)')
  }
  onTestFinished(() => void spawnSync('umount', ['-l', disk]))
  const first = await startServer({ dataFolder: disk })
  expect(await first.stop()).toBe(0)
  expect(spawnSync('mount', ['-o', 'remount,ro', disk]).status).toBe(0)
  const refusal = await startServer({ dataFolder: disk }).catch((error: Error) => error.message)
  expect(refusal).toMatch(
    new RegExp(`data folder cannot be used: EROFS: read-only file system.*${disk}.*SWAYBOOK_DATA`),
  )
})

it('a signed-in reader goes on reading when it cannot be noted that they were seen', async () => {
  const app = await testApp()
  const set = await call(app, {
    method: 'PUT',
    url: '/api/me/password',
    payload: { password: 'four paws on a soft pad', signInName: 'ola', name: 'Ola' },
  })
  const secret = set.cookies.find(({ name }) => name === 'swaybook_sign_in')!.value
  const { people } = app.store
  const touched = vi.spyOn(people.passes, 'touch')
  touched.mockRejectedValue(Object.assign(new Error('database or disk is full'), { code: 'SQLITE_FULL' }))
  const anHourLater = () => Date.now() + 3_600_000
  const visitors = new Visitors(people, { onlyThisComputer: false, nowMs: anHourLater })
  const visitor = await visitors.visitor({ signIn: hashOf(secret), share: null, paired: [] })
  expect(visitor.person).toMatchObject({ name: 'Ola', via: 'sign-in' })
  expect(touched).toHaveBeenCalledOnce()
})
