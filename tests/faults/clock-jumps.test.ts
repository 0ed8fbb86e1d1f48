import { expect, it, onTestFinished } from 'vitest'
import type { ServerToViewer } from '#protocol/messages'
import { addLiveSession, call, listeningApp } from '../helpers/build-app.ts'
import { LiveClient } from '../helpers/live-client.ts'
import { SteadySender } from './steady-sender.ts'
import { expectStored } from './stored-truth.ts'

const HOUR_US = 3_600_000_000
const POLL = { timeout: 60_000, interval: 5 }

it.each([
  ['jumps forward and back by hours', (nowUs: number, i: number) => nowUs + [0, 5, -7, 2][i % 4] * HOUR_US],
  ['runs backwards', (nowUs: number, i: number) => nowUs - i * 1e6],
  ['says nonsense', (_: number, i: number) => [0, -1e300, 1e300, 5e-324][i % 4]],
])('a sender whose clock %s: samples, windows and the report are as without', async (_, clock) => {
  const { app, wsUrl } = await listeningApp()
  const session = await addLiveSession(app)
  const viewer = new LiveClient<ServerToViewer>(`${wsUrl}/api/live/watch?session=${session}`)
  await viewer.opened()
  const arrivedAtUs = (index: number) => clock(Date.now() * 1000, index)
  const sender = new SteadySender({ wsUrl: () => wsUrl, session, seed: 5, arrivedAtUs })
  onTestFinished(() => sender.stop())
  const running = sender.run()
  await expect.poll(() => sender.acknowledged, POLL).toBeGreaterThan(3000)
  const total = sender.end()
  await running
  expect(sender.connections).toBe(1)
  expect(sender.errors).toEqual([])
  await expectStored(app.store, 5, total)
  // Faster than real time most of what is shown are snapshots. Signal time comes from the sample index alone.
  const shown = viewer.received.flatMap((message) =>
    message.type === 'window' ? message.window.endS : message.type === 'snapshot' ? message.receivedS : [],
  )
  expect(shown.every((endS, i) => i === 0 || endS >= shown[i - 1] - 1e-9)).toBe(true)
  expect(Math.max(...shown)).toBeLessThanOrEqual(total / 100 + 1e-9)
  expect((await viewer.closed).code).toBe(1000)
  const stored = (await call(app, { url: `/api/sessions/${session}` })).json()
  expect(stored).toMatchObject({ state: 'finished' })
  expect(stored.durationS).toBeGreaterThan(0.9 * (total / 100))
  expect(stored.durationS).toBeLessThan(1.1 * (total / 100))
})

it('a start that is no date is refused, and the list of sessions stays readable', async () => {
  const { app, wsUrl } = await listeningApp()
  const session = await addLiveSession(app)
  for (const startedAtUs of [8.64e18, 2 ** 53, 1e300]) {
    const client = await new LiveClient(`${wsUrl}/api/live/send`).opened()
    const identity = { session, stream: 's' }
    client.send({ type: 'hello', protocol: 1, ...identity, rateHz: 100, channels: 3, startedAtUs })
    expect(await client.closed).toMatchObject({ code: 1008 })
  }
  const latest = await new LiveClient(`${wsUrl}/api/live/send`).opened()
  const hello = { type: 'hello', protocol: 1, session, stream: 's', rateHz: 100, channels: 3 }
  latest.send({ ...hello, startedAtUs: Number.MAX_SAFE_INTEGER })
  await latest.next('welcome' as never)
  const list = await call(app, { url: '/api/sessions' })
  expect(list.statusCode).toBe(200)
  expect(list.json().sessions[0].startedAt).toBe('2255-06-05T23:47:34.740Z')
})
