import { once } from 'node:events'
import { watch } from 'node:fs'
import { setTimeout as sleep } from 'node:timers/promises'
import { expect, it, onTestFinished } from 'vitest'
import { openSqliteStore } from '#server/store/sqlite/store'
import { createRandom } from '#signal/simulator/random'
import { temporaryDir } from '../helpers/build-app.ts'
import { startServer } from '../helpers/running-server.ts'
import type { RunningServer } from '../helpers/running-server.ts'
import { addSessions, sessionState } from './api.ts'
import { SteadySender } from './steady-sender.ts'
import { expectStored } from './stored-truth.ts'

const KILLS = 50
const STREAMS = 4
const POLL = { timeout: 60_000, interval: 5 }

it(
  'killed 50 times while four senders stream: no acknowledged sample lost, none twice, all finished',
  { timeout: 1_200_000 },
  async () => {
    const dataFolder = await temporaryDir()
    const random = createRandom(50)
    let server = await start(dataFolder)
    const port = Number(new URL(server.url).port)
    const sessions = await addSessions(server.url, STREAMS)
    const senders = sessions.map(
      (session, i) =>
        new SteadySender({ wsUrl: () => server.url.replace('http', 'ws'), session, seed: i + 1 }),
    )
    onTestFinished(() => senders.forEach((sender) => sender.stop()))
    const running = Promise.all(senders.map((sender) => sender.run()))

    let unacknowledged = 0
    let underWay = 0
    for (let kill = 0; kill < KILLS; kill++) {
      // Every life of the server stores something of every stream.
      await expect.poll(() => senders.every(({ answers }) => answers > 1), POLL).toBe(true)
      await sleep(random.uniform() * 200)
      // Every other time in the middle of writing, as far as can be seen from outside.
      if (kill % 2 === 0) await nextWrite(dataFolder)
      await server.kill()
      const before = senders.map(({ acknowledged, sent }) => ({ acknowledged, sent }))
      for (const sender of senders) sender.answers = 0
      server = await start(dataFolder, port)
      await expect.poll(() => senders.every(({ answers }) => answers > 0), POLL).toBe(true)
      const welcomed = senders.map(({ welcomedAt }) => welcomedAt)
      if (welcomed.some((index, i) => index > before[i].acknowledged)) unacknowledged++
      if (welcomed.some((index, i) => index < before[i].sent)) underWay++
    }

    const totals = senders.map((sender) => sender.end())
    await running
    expect(senders.flatMap(({ problems }) => problems)).toEqual([])
    expect(senders.map(({ finished }) => finished?.samples)).toEqual(totals)
    expect(Math.min(...totals)).toBeGreaterThan(KILLS * 25)
    for (const session of sessions) expect(await sessionState(server.url, session)).toBe('finished')
    expect(server.stderr()).not.toContain('"level":50')
    expect(await server.stop()).toBe(0)

    const store = await openSqliteStore(dataFolder, 1)
    onTestFinished(() => store.close())
    for (const [i, total] of totals.entries()) await expectStored(store, i + 1, total)
    // Otherwise this test would prove less than it says. How many fall so depends on the machine.
    expect(unacknowledged, 'kills between a commit and its acknowledgement').toBeGreaterThan(0)
    expect(underWay, 'kills with samples on their way').toBeGreaterThan(0)
  },
)

async function start(dataFolder: string, port = 0): Promise<RunningServer> {
  const server = await startServer({ dataFolder, port, env: { LOG_LEVEL: 'warn' } })
  onTestFinished(() => server.kill())
  return server
}

/** Resolves when the data folder is written to; not at all is no reason to wait for ever. */
async function nextWrite(dataFolder: string): Promise<void> {
  const watcher = watch(dataFolder)
  await Promise.race([once(watcher, 'change'), sleep(1000)])
  watcher.close()
}
