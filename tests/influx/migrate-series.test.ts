import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import Sqlite from 'better-sqlite3'
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { createRandom } from '#signal/simulator/random'
import { openSqliteStore } from '#server/store/sqlite/store'
import { openInfluxStore } from '#server/store/influx/store'
import { temporaryDir } from '../helpers/build-app.ts'
import { InfluxProcess, newDatabase } from '../helpers/influx-server.ts'
import { hasInfluxd } from '../helpers/influxd.mjs'
import { storedSamples } from '../helpers/stored-samples.ts'
import { directRows } from './direct-rows.ts'
import { addStream, columnsOf, rowsOf } from './streams.ts'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))
const SAMPLES = 40_000
const STREAMS = ['a', 'b', 'c']

describe.skipIf(!hasInfluxd())('swaybook migrate-series', () => {
  let influx: InfluxProcess
  beforeAll(async () => {
    influx = await InfluxProcess.start()
  })
  afterAll(() => influx.remove())

  /** The command as a process of its own; killed once it has moved that many samples, when given. */
  async function run(dir: string, env: Record<string, string>, to: string, killAfter?: number) {
    const cli = join(ROOT, 'dist/server/cli/main.js')
    const code = `import(${JSON.stringify(cli)}).then((m) => m.main(['migrate-series', '--to', '${to}', '--data', ${JSON.stringify(dir)}])).then((c) => process.exit(c))`
    const child = spawn(process.execPath, ['-e', code], { env: { PATH: process.env.PATH, ...env } })
    let said = ''
    child.stdout.on('data', (text) => (said += text))
    child.stderr.on('data', (text) => (said += text))
    const exited = once(child, 'exit') as Promise<[number | null]>
    if (killAfter !== undefined) {
      let ended = false
      void exited.then(() => (ended = true))
      const before = remoteSamples(dir)
      const isFar = () => ended || Math.abs(remoteSamples(dir) - before) >= killAfter
      await expect.poll(isFar, { timeout: 60_000, interval: 2 }).toBe(true)
      child.kill('SIGKILL')
    }
    const [status] = await exited
    return { status, said }
  }

  it(
    'killed again and again on the way there and back, loses and doubles nothing',
    { timeout: 600_000 },
    async () => {
      const dir = await temporaryDir()
      const settings = await newDatabase(influx)
      const database = settings.target.api === 'v1' ? settings.target.database : ''
      const env = { INFLUX_URL: influx.url, INFLUX_DATABASE: database }
      const first = await openSqliteStore(dir, 1)
      for (const [seed, id] of STREAMS.entries()) {
        await addStream(first, id)
        for (let i = 0; i < 300; i += 10) await first.series.appendSamples(id, i, columnsOf(i, 10, seed))
        await first.series.appendLost(id, 300, 5)
        await first.series.appendSamples(id, 305, columnsOf(305, SAMPLES - 305, seed))
        await first.series.complete(id)
      }
      // While it runs, nobody else may.
      expect(await run(dir, env, 'influx')).toMatchObject({
        status: 3,
        said: expect.stringMatching(/in use by another/),
      })
      await first.close()
      const expected = STREAMS.map((_, seed) => rowsOf(SAMPLES, seed).filter(([i]) => i < 300 || i >= 305))
      const random = createRandom(6)
      const kills = Array.from({ length: 3 }, () => 1 + Math.floor(random.uniform() * 15_000))

      const seen = new Set<number>()
      for (const killAfter of kills) {
        await run(dir, env, 'influx', killAfter)
        seen.add(remoteSamples(dir))
      }
      expect(await run(dir, env, 'influx')).toMatchObject({ status: 0 })
      for (const slot of STREAMS.keys())
        expect(await directRows(influx, database, slot)).toEqual(expected[slot])
      await expect(openSqliteStore(dir, 1)).rejects.toThrow(/are in InfluxDB.*migrate-series --to sqlite/)
      const there = await openInfluxStore(dir, settings, 1, (error) => {
        throw error
      })
      for (const [seed, id] of STREAMS.entries())
        expect(await storedSamples(there, id)).toEqual(expected[seed])
      await there.close()

      for (const killAfter of kills) {
        await run(dir, env, 'sqlite', killAfter)
        seen.add(remoteSamples(dir))
      }
      expect(await run(dir, env, 'sqlite')).toMatchObject({ status: 0 })
      const back = await openSqliteStore(dir, 1)
      onTestFinished(() => back.close())
      for (const [seed, id] of STREAMS.entries())
        expect(await storedSamples(back, id)).toEqual(expected[seed])
      expect(await influx.ask('SELECT count(ax) FROM samples', database)).toEqual([])
      // Otherwise no kill fell into the middle, and this proves less than it says.
      expect(seen.size, 'different states that kills left').toBeGreaterThan(4)
    },
  )

  it('refuses settings that are missing and an InfluxDB that does not answer', async () => {
    const dir = await temporaryDir()
    await (await openSqliteStore(dir, 1)).close()
    expect(await run(dir, {}, 'influx')).toMatchObject({
      status: 2,
      said: expect.stringMatching(/INFLUX_URL/),
    })
    const store = await openSqliteStore(dir, 1)
    await addStream(store, 's')
    await store.series.appendSamples('s', 0, columnsOf(0, 10))
    await store.close()
    const env = { INFLUX_URL: 'http://127.0.0.1:9', INFLUX_DATABASE: 'd' }
    const { status, said } = await run(dir, env, 'influx')
    expect(said).toMatch(/nothing is lost. 1 blocks wait.*cannot be reached/)
    expect(status).toBe(3)
  })
})

function remoteSamples(dir: string): number {
  const raw = new Sqlite(join(dir, 'swaybook.sqlite'), { readonly: true })
  try {
    return raw
      .prepare(`select coalesce(sum(count), 0) from sample_blocks where encoding = 'influx'`)
      .pluck()
      .get() as number
  } finally {
    raw.close()
  }
}
