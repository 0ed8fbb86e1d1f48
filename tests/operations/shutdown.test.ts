import { expect, it, onTestFinished } from 'vitest'
import { openSqliteStore } from '#server/store/sqlite/store'
import { addSessions } from '../faults/api.ts'
import { SteadySender } from '../faults/steady-sender.ts'
import { expectStored } from '../faults/stored-truth.ts'
import { temporaryDir } from '../helpers/build-app.ts'
import { startServer } from '../helpers/running-server.ts'

const STREAMS = 3
const STOPS = 5
const POLL = { timeout: 60_000, interval: 5 }

it(
  'stopped again and again while senders stream: 1001, exit code 0, all that was taken is acknowledged, nothing twice',
  { timeout: 300_000 },
  async () => {
    const dataFolder = await temporaryDir()
    let server = await startServer({ dataFolder })
    onTestFinished(() => server.kill())
    const port = Number(new URL(server.url).port)
    const sessions = await addSessions(server.url, STREAMS)
    const wsUrl = () => server.url.replace('http', 'ws')
    const senders = sessions.map((session, i) => new SteadySender({ wsUrl, session, seed: i + 1 }))
    onTestFinished(() => senders.forEach((sender) => sender.stop()))
    const running = Promise.all(senders.map((sender) => sender.run()))
    for (let stop = 0; stop < STOPS; stop++) {
      await expect.poll(() => senders.every(({ answers }) => answers > 3), POLL).toBe(true)
      const closed = senders.map(({ closeCodes }) => closeCodes.length)
      expect(await server.stop()).toBe(0)
      for (const [i, { closeCodes }] of senders.entries()) expect(closeCodes[closed[i]]).toBe(1001)
      const acknowledged = senders.map((sender) => sender.acknowledged)
      for (const sender of senders) sender.answers = 0
      server = await startServer({ dataFolder, port })
      await expect.poll(() => senders.every(({ answers }) => answers > 0), POLL).toBe(true)
      // Nothing lay on the disk that had not been acknowledged: the goodbye came after the last answer.
      expect(senders.map(({ welcomedAt }) => welcomedAt)).toEqual(acknowledged)
    }
    const totals = senders.map((sender) => sender.end())
    await running
    expect(senders.flatMap(({ problems, errors }) => [...problems, ...errors])).toEqual([])
    expect(await server.stop()).toBe(0)
    const store = await openSqliteStore(dataFolder, 1)
    onTestFinished(() => store.close())
    for (const [i, total] of totals.entries()) await expectStored(store, i + 1, total)
  },
)
