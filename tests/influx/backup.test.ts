import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { embedSamples } from '#server/store/influx/embed-copy'
import { moveToInflux } from '#server/store/influx/migrate-series'
import type { InfluxSettings } from '#server/store/influx/settings'
import { openInfluxStore } from '#server/store/influx/store'
import { openSqliteStore } from '#server/store/sqlite/store'
import { backUp } from '#server/upkeep/backup'
import { verify } from '#server/upkeep/verify'
import { temporaryDir } from '../helpers/build-app.ts'
import { InfluxProcess, newDatabase } from '../helpers/influx-server.ts'
import { hasInfluxd } from '../helpers/influxd.mjs'
import { storedSamples } from '../helpers/stored-samples.ts'
import { commandIsBuilt, startCommandWith } from '../upkeep/command.ts'
import { ageReports, storedAnalyses, storeMeasured } from '../upkeep/measured-sessions.ts'
import { directRows } from './direct-rows.ts'
import { addStream, columnsOf, rowsOf } from './streams.ts'

const SAMPLES = 9000
const STREAMS = ['a', 'b', 'c']

const failing = (error: unknown): never => {
  throw error
}

describe.skipIf(!hasInfluxd())('with samples in InfluxDB', () => {
  let influx: InfluxProcess
  beforeAll(async () => {
    influx = await InfluxProcess.start()
    await commandIsBuilt()
  }, 120_000)
  afterAll(() => influx.remove())

  const databaseOf = ({ target }: InfluxSettings) => (target.api === 'v1' ? target.database : '')
  const envOf = (settings: InfluxSettings) => ({
    SWAYBOOK_SERIES: 'influx',
    INFLUX_URL: settings.url,
    INFLUX_DATABASE: databaseOf(settings),
  })
  const command = (env: Record<string, string>, ...args: string[]) => startCommandWith(env, ...args).ended

  /** Three streams with a loss each, in InfluxDB but for some that wait. */
  async function storedThere(dir: string): Promise<InfluxSettings> {
    const settings = await newDatabase(influx)
    const store = await openInfluxStore(dir, settings, 1, failing)
    for (const [seed, id] of STREAMS.entries()) {
      await addStream(store, id)
      await store.series.appendSamples(id, 0, columnsOf(0, 300, seed))
      await store.series.appendLost(id, 300, 5)
      await store.series.appendSamples(id, 305, columnsOf(305, SAMPLES - 305, seed))
      await store.series.complete(id)
    }
    await store.caughtUp()
    await store.close()
    return settings
  }
  const expected = (seed: number) => rowsOf(SAMPLES, seed).filter(([i]) => i < 300 || i >= 305)

  it(
    'a backup holds them, beside an open store, and restores to either store; InfluxDB keeps what it has',
    { timeout: 240_000 },
    async () => {
      const dir = await temporaryDir()
      const data = join(dir, 'data')
      const settings = await storedThere(data)
      const open = await openInfluxStore(data, settings, 1, failing)
      onTestFinished(() => open.close())
      const { code, out, err } = await command(envOf(settings), 'backup', join(dir, 'copy'), '--data', data)
      expect({ code, err }).toEqual({ code: 0, err: '' })
      expect(out).toMatch(/26985 samples, .* read back and checked/)
      const manifest = JSON.parse(readFileSync(join(dir, 'copy', 'manifest.json'), 'utf8'))
      expect(manifest.samples).toMatchObject({
        streams: 3,
        samples: 3 * (SAMPLES - 5),
        lost: 15,
        inInflux: 0,
      })
      for (const [seed] of STREAMS.entries()) {
        expect(await directRows(influx, databaseOf(settings), seed)).toEqual(expected(seed))
      }
      expect(open.seriesStatus()).toMatchObject({ pendingDeletions: 0 })

      const back = join(dir, 'back')
      expect((await command({}, 'restore', join(dir, 'copy'), '--data', back)).code).toBe(0)
      expect((await verify(back)).findings).toEqual([])
      const embedded = await openSqliteStore(back, 1)
      for (const [seed, id] of STREAMS.entries())
        expect(await storedSamples(embedded, id)).toEqual(expected(seed))
      await embedded.close()
      const other = await newDatabase(influx)
      const moved = await openInfluxStore(back, other, 1, failing)
      onTestFinished(() => moved.close())
      await moved.caughtUp()
      expect(moved.seriesStatus()).toMatchObject({ state: 'ok', waitingBlocks: 0, refusedStreams: 0 })
      for (const [seed, id] of STREAMS.entries()) {
        expect(await storedSamples(moved, id)).toEqual(expected(seed))
        expect(await directRows(influx, databaseOf(other), seed)).toEqual(expected(seed))
      }
    },
  )

  it(
    'without settings or an answer there is no backup; --records-only says what is missing',
    { timeout: 120_000 },
    async () => {
      const dir = await temporaryDir()
      const data = join(dir, 'data')
      const settings = await storedThere(data)
      const unset = await command({}, 'backup', join(dir, 'unset'), '--data', data)
      expect(unset.code).toBe(3)
      expect(unset.err).toMatch(
        /26985 samples of .* are in InfluxDB. Set INFLUX_URL .* or add --records-only/,
      )
      const away = { ...envOf(settings), INFLUX_URL: 'http://127.0.0.1:9' }
      const unreachable = await command(away, 'backup', join(dir, 'away'), '--data', data)
      expect(unreachable.code).toBe(3)
      expect(unreachable.err).toMatch(/samples in InfluxDB could not be read: .*No backup was made/)
      expect(readdirSync(dir)).toEqual(['data'])
      const records = await command({}, 'backup', join(dir, 'records'), '--records-only', '--data', data)
      expect(records.code).toBe(0)
      expect(records.err).toMatch(/NOT IN THIS BACKUP: 26985 samples that are in InfluxDB. Back InfluxDB up/)
      const manifest = JSON.parse(readFileSync(join(dir, 'records', 'manifest.json'), 'utf8'))
      expect(manifest.samples.inInflux).toBe(26985)
    },
  )

  it(
    'what InfluxDB lost is a damaged block by its name; the rest of the backup is whole',
    { timeout: 120_000 },
    async () => {
      const dir = await temporaryDir()
      const data = join(dir, 'data')
      const settings = await storedThere(data)
      await influx.ask(`DELETE FROM samples WHERE slot = '1' AND time > 0`, databaseOf(settings))
      const { code, err } = await command(envOf(settings), 'backup', join(dir, 'copy'), '--data', data)
      expect(code).toBe(3)
      expect(err).toMatch(
        /what was copied is damaged.*\n.*damaged block: stream b in session session-b of dog dog-1/,
      )
      expect(err).not.toMatch(/stream [ac] /)
      const back = join(dir, 'back')
      expect((await command({}, 'restore', join(dir, 'copy'), '--data', back)).code).toBe(0)
      const store = await openSqliteStore(back, 1)
      onTestFinished(() => store.close())
      expect(await storedSamples(store, 'a')).toEqual(expected(0))
      expect(await storedSamples(store, 'c')).toEqual(expected(2))
      await expect(storedSamples(store, 'b')).rejects.toThrow(
        /block of stream b .* does not match its checksum/,
      )
    },
  )

  it(
    'a session that is deleted while its samples are fetched is not in the backup',
    { timeout: 120_000 },
    async () => {
      const dir = await temporaryDir()
      const data = join(dir, 'data')
      const settings = await storedThere(data)
      const store = await openInfluxStore(data, settings, 1, failing)
      onTestFinished(() => store.close())
      await backUp(data, join(dir, 'copy'), 'records only')
      await store.records.deleteSession('session-b')
      const raw = new Sqlite(join(dir, 'copy', 'swaybook.sqlite'))
      raw.pragma('foreign_keys = ON')
      const there = new Set(['a', 'c'])
      await embedSamples(raw, settings, (stream) => there.has(stream))
      expect(raw.prepare('select id from sessions order by id').pluck().all()).toEqual([
        'session-a',
        'session-c',
      ])
      expect(raw.prepare('select count(*) from series_deletions').pluck().get()).toBe(0)
      raw.close()
      const embedded = await openSqliteStore(join(dir, 'copy'), 1)
      onTestFinished(() => embedded.close())
      expect(await storedSamples(embedded, 'a')).toEqual(expected(0))
    },
  )

  it(
    'sessions are measured anew from there; while it is away they keep what they have',
    { timeout: 240_000 },
    async () => {
      const data = await temporaryDir()
      const { sessionIds } = await storeMeasured(data, 2)
      const settings = await newDatabase(influx)
      await moveToInflux(data, settings)
      const original = storedAnalyses(data)
      ageReports(data, sessionIds)
      const old = storedAnalyses(data)
      const away = { ...envOf(settings), INFLUX_URL: 'http://127.0.0.1:9' }
      const unreachable = await command(away, 'reanalyse', '--stale', '--data', data)
      expect(unreachable.code).toBe(3)
      expect(unreachable.err).toMatch(/cannot be read: .* run the command again when it answers/)
      expect(storedAnalyses(data)).toEqual(old)
      const { code, out } = await command(envOf(settings), 'reanalyse', '--stale', '--data', data)
      expect(code).toBe(0)
      expect(out).toMatch(/2 of 2 sessions measured/)
      expect(storedAnalyses(data)).toEqual(original)
      const embedded = await command({}, 'reanalyse', '--data', data)
      expect(embedded.code).toBe(3)
      expect(embedded.err).toMatch(/are in InfluxDB. Set SWAYBOOK_SERIES=influx/)
    },
  )
})
