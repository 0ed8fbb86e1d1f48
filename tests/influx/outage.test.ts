import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import Sqlite from 'better-sqlite3'
import { join } from 'node:path'
import { temporaryDir } from '../helpers/build-app.ts'
import { InfluxProcess, newDatabase } from '../helpers/influx-server.ts'
import { hasInfluxd } from '../helpers/influxd.mjs'
import { startServer } from '../helpers/running-server.ts'
import type { RunningServer } from '../helpers/running-server.ts'
import { addSessions, sessionState } from '../faults/api.ts'
import { SteadySender, truth } from '../faults/steady-sender.ts'
import { directRows } from './direct-rows.ts'

const STREAMS = 4
const POLL = { timeout: 120_000, interval: 20 }
/** Of 100 Hz, so some minutes of recording each. */
const SAMPLES_IN_OUTAGE = 12_000

describe.skipIf(!hasInfluxd())('an outage of InfluxDB while four senders stream', () => {
  let influx: InfluxProcess
  beforeAll(async () => {
    influx = await InfluxProcess.start()
  })
  afterAll(() => influx.remove())

  it(
    'is spilled and caught up, the server killed in the middle of that as well',
    { timeout: 600_000 },
    async () => {
      const { target } = await newDatabase(influx)
      const database = target.api === 'v1' ? target.database : ''
      const dataFolder = await temporaryDir()
      const env = {
        SWAYBOOK_SERIES: 'influx',
        INFLUX_URL: influx.url,
        INFLUX_DATABASE: database,
        LOG_LEVEL: 'warn',
      }
      let server = await start(dataFolder, env)
      const port = Number(new URL(server.url).port)
      const sessions = await addSessions(server.url, STREAMS)
      const wsUrl = () => server.url.replace('http', 'ws')
      const senders = sessions.map((session, i) => new SteadySender({ wsUrl, session, seed: i + 1 }))
      onTestFinished(() => senders.forEach((sender) => sender.stop()))
      const running = Promise.all(senders.map((sender) => sender.run()))
      const everyHas = (count: number) =>
        expect.poll(() => senders.every((s) => s.acknowledged >= count), POLL).toBe(true)

      await everyHas(500)
      await influx.kill()
      const before = Math.max(...senders.map(({ acknowledged }) => acknowledged))
      await everyHas(before + SAMPLES_IN_OUTAGE)
      expect(waitingSamples(dataFolder), 'samples that wait in SQLite').toBeGreaterThan(STREAMS * 10_000)
      await influx.run()
      // In the middle of catching up: something has gone over, something still waits.
      const waited = waitingSamples(dataFolder)
      await expect
        .poll(() => waitingSamples(dataFolder), { ...POLL, interval: 2 })
        .toBeLessThan(waited - 4000)
      await server.kill()
      const left = waitingSamples(dataFolder)
      expect(left, 'samples that still waited at the kill').toBeGreaterThan(0)
      server = await start(dataFolder, env, port)
      const reached = Math.max(...senders.map(({ acknowledged }) => acknowledged))
      await everyHas(reached + 500)

      const totals = senders.map((sender) => sender.end())
      await running
      expect(senders.flatMap(({ problems }) => problems)).toEqual([])
      expect(senders.map(({ finished }) => finished?.samples)).toEqual(totals)
      for (const session of sessions) {
        await expect.poll(() => sessionState(server.url, session), POLL).toBe('finished')
      }
      await expect.poll(() => waitingSamples(dataFolder), POLL).toBe(0)
      // What was sent against what InfluxDB itself tells: senders began at once, so each has a slot of its own.
      const found = await Promise.all(totals.map((_, slot) => directRows(influx, database, slot)))
      const bySeed = new Map(found.map((rows) => [seedOf(rows), rows]))
      for (const [i, total] of totals.entries()) {
        const rows = bySeed.get(i + 1) ?? []
        const wrong = rows.findIndex(
          (row, index) => row[0] !== index || [0, 1, 2].some((a) => row[a + 1] !== truth(i + 1, a, index)),
        )
        expect({ seed: i + 1, count: rows.length, wrong }).toEqual({ seed: i + 1, count: total, wrong: -1 })
      }
    },
  )

  async function start(dataFolder: string, env: Record<string, string>, port = 0): Promise<RunningServer> {
    const server = await startServer({ dataFolder, port, env })
    onTestFinished(() => server.kill())
    return server
  }
})

function seedOf(rows: readonly number[][]): number {
  return [1, 2, 3, 4].find((seed) => rows[0]?.[1] === truth(seed, 0, 0)) ?? 0
}

function waitingSamples(dataFolder: string): number {
  const raw = new Sqlite(join(dataFolder, 'swaybook.sqlite'), { readonly: true })
  try {
    return raw
      .prepare(`select coalesce(sum(count), 0) from sample_blocks where encoding <> 'influx'`)
      .pluck()
      .get() as number
  } finally {
    raw.close()
  }
}
