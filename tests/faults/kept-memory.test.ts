import { once } from 'node:events'
import { join } from 'node:path'
import { expect, it, onTestFinished } from 'vitest'
import { WebSocket } from 'ws'
import { truth } from '../bench/live/waveform.ts'
import { temporaryDir } from '../helpers/build-app.ts'
import { sendRecording } from '../helpers/example-sender.ts'
import { ServerLives } from '../soak/server-lives.ts'
import { addSessions } from './api.ts'

const WARM_UP = 20
const SESSIONS = 60
const AT_ONCE = 4
/** A session that is not forgotten costs well over 100 kB; a full collection of the same varies by some 300 kB in all. */
const MOST_KEPT_KB = 20

/** Half a minute of signal. */
const FRAMES = Array.from({ length: 30 }, (_, k) => ({
  firstIndex: k * 100,
  count: 100,
  channels: 6 as const,
  encoding: 'float32' as const,
  arrivedAtUs: 1_772_386_200_000_000 + (k + 1) * 1e6,
  values: Array.from({ length: 6 }, (_, c) =>
    Float64Array.from({ length: 100 }, (_, i) => truth(1, c, k * 100 + i)),
  ),
}))

it('keeps nothing in memory of sessions that are over', { timeout: 300_000 }, async () => {
  const problems: string[] = []
  const server = new ServerLives({
    dataFolder: join(await temporaryDir(), 'data'),
    env: {},
    violation: (text) => problems.push(text),
  })
  onTestFinished(() => server.kill().then(() => undefined))
  await server.start()
  await recordAll(server.host, WARM_UP)
  const before = await server.collected()
  await recordAll(server.host, SESSIONS)
  const after = await server.collected()
  expect(problems).toEqual([])
  expect((after.heapUsed - before.heapUsed) / SESSIONS / 1024).toBeLessThan(MOST_KEPT_KB)
  expect((after.arrayBuffers - before.arrayBuffers) / SESSIONS / 1024).toBeLessThan(MOST_KEPT_KB)
})

/** Sessions from the first sample to the report, each watched by somebody. */
async function recordAll(host: string, count: number): Promise<void> {
  const sessions = await addSessions(`http://${host}`, count)
  const worker = async () => {
    for (let session = sessions.pop(); session; session = sessions.pop()) await record(host, session)
  }
  await Promise.all(Array.from({ length: AT_ONCE }, worker))
}

async function record(host: string, session: string): Promise<void> {
  const viewer = new WebSocket(`ws://${host}/api/live/watch?session=${session}`)
  await once(viewer, 'open')
  const ended = once(viewer, 'close')
  await sendRecording({
    url: `ws://${host}/api/live/send`,
    hello: {
      type: 'hello',
      protocol: 1,
      session,
      stream: `stream-${session}`,
      rateHz: 100,
      channels: 6,
      startedAtUs: 1_772_386_200_000_000,
    },
    frames: FRAMES,
    paceMs: 0,
    acknowledged: () => undefined,
  })
  await ended
}
