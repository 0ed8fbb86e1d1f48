import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { expect, it, onTestFinished } from 'vitest'
import { requireMetricsReader } from '#server/operations/metrics-access'
import { SteadySender } from '../faults/steady-sender.ts'
import { addLiveSession, call, listeningApp, testApp } from '../helpers/build-app.ts'
import { parseExposition } from './exposition.ts'
import type { Family } from './exposition.ts'

const README = fileURLToPath(new URL('../../server/README.md', import.meta.url))
const TOKEN = '0123456789abcdef0123456789abcdef'
const POLL = { timeout: 20_000, interval: 10 }

function valueOf(families: Map<string, Family>, name: string, labels: Record<string, string> = {}): number {
  const owner = families.get(name) ?? families.get(name.replace(/_(bucket|sum|count)$/, ''))
  const found = owner?.samples.filter(
    (sample) =>
      sample.name === name && Object.entries(labels).every(([key, value]) => sample.labels[key] === value),
  )
  if (found?.length !== 1) throw new Error(`${found?.length ?? 0} samples of ${name}`)
  return found[0].value
}

it('counts the traffic that was sent, in text that a reader of the format takes', async () => {
  const { app, url, wsUrl } = await listeningApp()
  const session = await addLiveSession(app)
  const sender = new SteadySender({ wsUrl: () => wsUrl, session, seed: 1, total: 3000 })
  onTestFinished(() => sender.stop())
  await sender.run()
  expect(sender.finished).toEqual({ samples: 3000 })
  for (let i = 0; i < 3; i++) await fetch(`${url}/api/sessions/${session}`)
  await fetch(`${url}/api/sessions/nobody-${'x'.repeat(20)}`)
  await fetch(`${url}/api/nothing-here`)
  const read = async () => parseExposition(await (await fetch(`${url}/api/metrics`)).text())
  await expect.poll(async () => valueOf(await read(), 'swaybook_sockets', { role: 'sender' }), POLL).toBe(0)
  const families = await read()
  expect(valueOf(families, 'swaybook_samples_received_total')).toBe(3000)
  expect(valueOf(families, 'swaybook_samples_stored_total')).toBe(3000)
  expect(valueOf(families, 'swaybook_samples_lost_total')).toBe(0)
  expect(valueOf(families, 'swaybook_commit_duration_seconds_count')).toBeGreaterThan(3000 / 40)
  expect(valueOf(families, 'swaybook_sockets_closed_total', { role: 'sender', code: '1005' })).toBe(1)
  const requests = 'swaybook_http_request_duration_seconds_count'
  const route = '/api/sessions/:sessionId'
  expect(valueOf(families, requests, { method: 'GET', route, status_code: '200' })).toBe(3)
  expect(valueOf(families, requests, { method: 'GET', route, status_code: '404' })).toBe(1)
  expect(valueOf(families, 'swaybook_ready')).toBe(1)
  expect(valueOf(families, 'swaybook_store_writable')).toBe(1)
  // No id, name or address of anybody is a label.
  const labels = [...families.values()].flatMap(({ samples }) =>
    samples.flatMap((s) => Object.values(s.labels)),
  )
  expect(labels.filter((label) => label.includes(session) || label.includes('nobody'))).toEqual([])
})

it('names metrics as the Prometheus documentation asks, each with a help, and the README lists each of ours', async () => {
  const app = await testApp()
  const families = parseExposition((await call(app, { url: '/api/metrics' })).body)
  const units = /_(seconds|bytes|total|info|ratio)$/
  for (const { name, help, type } of families.values()) {
    expect(help, name).toMatch(/\S{2}/)
    // "Metric and label naming": an accumulating count has _total as a suffix.
    if (type === 'counter') expect(name).toMatch(/_total$/)
    if (type === 'histogram') expect(name).toMatch(units)
  }
  const ours = (await app.metrics.list()).filter(({ name }) => name.startsWith('swaybook_'))
  const rows = [...readFileSync(README, 'utf8').matchAll(/^\| `(swaybook_\w+)` +\| (\w+) +\| (.+?) +\|$/gm)]
  expect(rows.map(([, name, type, help]) => ({ name, type, help }))).toEqual(
    ours.map(({ name, type, help }) => ({ name, type, help })),
  )
})

it('metrics are for the keeper and for who has the token, whatever else is sent', () => {
  const isLetIn = (token: string | null, authorization: string | undefined, isKeeper = false) => {
    try {
      requireMetricsReader(token, authorization, isKeeper)
      return true
    } catch (error) {
      expect(error).toMatchObject({ code: 'METRICS_TOKEN_REQUIRED', status: 401 })
      return false
    }
  }
  expect(isLetIn(TOKEN, `Bearer ${TOKEN}`)).toBe(true)
  expect(isLetIn(null, undefined, true)).toBe(true)
  for (const wrong of [
    undefined,
    '',
    'Bearer',
    'Bearer ',
    `Basic ${TOKEN}`,
    `Bearer ${TOKEN}0`,
    'Bearer null',
  ]) {
    expect(isLetIn(TOKEN, wrong)).toBe(false)
    expect(isLetIn(null, wrong)).toBe(false)
  }
})

it('a server with a password refuses metrics without a sign-in, counts that, and takes the token', async () => {
  const app = await testApp({ metricsToken: TOKEN })
  const { people } = app.store
  const keeper = await people.keeper()
  // What the hash is made of does not matter: nobody signs in here.
  await people.setPassword(
    keeper.id,
    { signInName: 'keeper', passwordHash: 'x' },
    { name: keeper.name, personId: keeper.id },
  )
  const read = (headers: Record<string, string> = {}) => call(app, { url: '/api/metrics', headers })
  expect((await read()).statusCode).toBe(401)
  const answer = await read({ authorization: `Bearer ${TOKEN}` })
  expect(answer.statusCode).toBe(200)
  const families = parseExposition(answer.body)
  expect(valueOf(families, 'swaybook_auth_failures_total', { code: 'METRICS_TOKEN_REQUIRED' })).toBe(1)
})
