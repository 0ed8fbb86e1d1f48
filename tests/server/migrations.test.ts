import { createHash } from 'node:crypto'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { Kysely, Migrator, SqliteDialect } from 'kysely'
import { expect, it, onTestFinished } from 'vitest'
import type { Report } from '#signal/report-types'
import { analyse } from '#signal/report'
import { DataFolderError } from '#server/store/data-folder'
import { encodeRaw } from '#server/store/sqlite/block-codec'
import { MIGRATIONS } from '#server/store/sqlite/migrations'
import { openSqliteStore } from '#server/store/sqlite/store'
import { temporaryDir } from '../helpers/build-app.ts'
import { madePlan } from '../helpers/made-plan.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { storedSamples } from '../helpers/stored-samples.ts'

const ROWAN = { name: 'Rowan Vale', personId: null }
const FIRST = '001-first'
/** SHA-256 of the tables 001 makes: a released migration never changes. */
const TABLES_OF_001 = '3740cf4258e64a2be86b473e2b7ad602a5012cb0b7eebb6fe50f8a82dcf9481b'

const columns = [0, 1, 2].map((axis) => Float32Array.from({ length: 50 }, (_, i) => i / 8 + axis))

/** A database as the first release left it: a finished live session, a recording one, an upload. */
async function databaseOfFirstRelease(dataDir: string): Promise<string> {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'))
  const db = new Kysely<unknown>({ dialect: new SqliteDialect({ database: raw }) })
  const provider = { getMigrations: async () => ({ [FIRST]: MIGRATIONS[FIRST] }) }
  expect((await new Migrator({ db, provider }).migrateToLatest()).error).toBeUndefined()
  const tables = raw
    .prepare(`select sql from sqlite_master where sql is not null order by name`)
    .pluck()
    .all()
  raw.exec(`
    insert into dogs values ('d', 'Juniper', 'Lurcher', 27, 68, 'invented', 0, '2026-03-01T10:00:00.000Z');
    insert into sessions (id, dog_id, sensor, exercise, surface, mount, state, started_at_us, created_at,
        ordered_at_us, duration_s, holds, sway_ms2, analysis_version)
      values ('done', 'd', 'phone', 'stand', 'foam pad', 'auto', 'finished', 1772386200000000,
        '2026-03-01T17:30:00.000Z', 1772386200000000, 0.5, 1, 0.08, '2');
    insert into sessions (id, dog_id, sensor, mount, state, created_at, ordered_at_us)
      values ('open', 'd', 'bluetooth', 'auto', 'recording', '2026-03-02T17:30:00.000Z', 1772472600000000);
    insert into streams values ('s', 'done', 'live', 'ax,ay,az', 100, 1772386200000000, 0.005, null, 60, 1);
    insert into lost_ranges values ('s', 50, 10);
    insert into marks (session_id, id, at_s, kind, note) values ('done', 'm', 0.2, 'note', 'slipped');
    insert into reports values ('done', '{"version":"2"}', '{"durationS":0.5}', '2', '2026-03-01T17:31:00.000Z');
    insert into holds values ('done', 0, 0.1, 0.4, null, 'step', 0.08, null, '{"index":0}');
  `)
  const block = encodeRaw({ dtype: 'float32', values: columns })
  raw
    .prepare('insert into sample_blocks values (?, ?, ?, ?, ?, ?, ?)')
    .run('s', 0, 50, block.dtype, block.encoding, block.columns, block.crc32)
  await db.destroy()
  return createHash('sha256').update(tables.join('\n')).digest('hex')
}

/** SHA-256 of the tables as each released migration leaves them: a released migration never changes. */
const TABLES_AFTER: Record<string, string> = {
  [FIRST]: TABLES_OF_001,
  '002-plans-and-arrivals': 'd48a94525ebb3b82f4fb30566aeb8338ed0f34bcc46615ba58f52b6df010ccea',
  '003-arrivals-of-blocks': '668d927a98ab961d595bd01865d3c10cc43d4377901374a98a034f9a8e2cfb14',
}

/** A database as the release with this last migration left it, with a measured session. */
async function databaseUpTo(dataDir: string, last: string, report: Report): Promise<string> {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'))
  const db = new Kysely<unknown>({ dialect: new SqliteDialect({ database: raw }) })
  const known = Object.fromEntries(Object.entries(MIGRATIONS).filter(([name]) => name <= last))
  const provider = { getMigrations: async () => known }
  expect((await new Migrator({ db, provider }).migrateToLatest()).error).toBeUndefined()
  const tables = raw
    .prepare(`select sql from sqlite_master where sql is not null order by name`)
    .pluck()
    .all()
  raw.exec(`
    insert into dogs (id, name, demo, created_at) values ('d', 'Juniper', 0, '2026-03-01T10:00:00.000Z');
    insert into sessions (id, dog_id, sensor, exercise, surface, mount, state, started_at_us, created_at,
        ordered_at_us)
      values ('done', 'd', 'phone', 'stand', 'foam pad', 'auto', 'finished', 1772386200000000,
        '2026-03-01T17:30:00.000Z', 1772386200000000),
        ('unmeasured', 'd', 'phone', 'stand', 'foam pad', 'auto', 'failed', 1772472600000000,
        '2026-03-02T17:30:00.000Z', 1772472600000000);
    insert into marks (session_id, id, at_s, kind, note) values ('done', 'm', 0.2, 'note', 'slipped');
  `)
  raw
    .prepare("insert into reports values ('done', ?, '{}', '2', '2026-03-01T17:31:00.000Z')")
    .run(JSON.stringify(report))
  if (last !== FIRST) {
    raw.exec(`insert into check_ins values ('done', 'fine', 'ate well', '2026-03-02T08:00:00.000Z')`)
    const plan = JSON.stringify(madePlan())
    raw.prepare("insert into plans values ('d', 1, ?, '2026-03-01T10:00:00.000Z')").run(plan)
  }
  await db.destroy()
  return createHash('sha256').update(tables.join('\n')).digest('hex')
}

it.each(Object.keys(TABLES_AFTER))('a database left at %s has the figures of its reports', async (last) => {
  const dataDir = await temporaryDir()
  const { report } = analyse({ trace: sessionTrace(), unit: 'm/s2' }, {})
  expect(await databaseUpTo(dataDir, last, report)).toBe(TABLES_AFTER[last])

  const store = await openSqliteStore(dataDir, 1)
  onTestFinished(() => store.close())
  const { records } = store
  // From the report as it is, not from what the server makes of it.
  const { session, holds } = report
  expect(holds.length).toBeGreaterThan(0)
  expect(await records.session('done')).toMatchObject({
    version: 1,
    repetitions: session.repetitions.filter(({ holdS }) => holdS > 0).length,
    supportShare: session.supportShare,
    fatigueRatio: session.fatigue.lastOverFirst,
    planWarnings: session.planWarnings.length,
    excluded: null,
    setUpConfirmedAt: null,
    checkIn: last === FIRST ? null : { answer: 'normal', note: 'ate well', version: 1 },
  })
  const [{ figures }, unmeasured] = await records.trends.rows('d', 'pathRate')
  const [jerky] = await records.trends.rows('d', 'jerk')
  expect({ ...figures, comparableJerk: jerky.figures.comparableJerk }).toMatchObject({
    comparablePathRate: session.comparable.pathRate,
    comparableJerk: session.comparable.jerk,
    comparableWeak: session.comparable.weak,
    comparableBasis: session.comparable.basis,
    lookAlike: holds.some(({ role, tremor }) => role === 'exercise' && tremor.bands[0]?.lookalike),
  })
  expect(session.comparable.pathRate).not.toBeNull()
  expect(unmeasured.figures).toMatchObject({
    comparablePathRate: null,
    comparableWeak: null,
    lookAlike: null,
  })
  expect(await records.plans.plans('d')).toMatchObject(last === FIRST ? [] : [{ ...madePlan(), version: 1 }])

  // What is new works on the old rows.
  const edits = (await records.edits.edits('done'))!
  expect(edits).toEqual({
    marks: [{ id: 'm', atS: 0.2, kind: 'note', note: 'slipped' }],
    holds: [],
    version: 1,
  })
  const hold = { id: 'h', kind: 'set' as const, fromS: 1, toS: 2, reason: null }
  const edited = await records.edits.replace('done', { ...edits, holds: [hold] }, () => true, ROWAN)
  expect(edited).toEqual({ kind: 'changed', record: { version: 2, differs: true } })
  expect(await records.changeDog('d', { bornYear: 2019 }, (version) => version === 1, ROWAN)).toMatchObject({
    record: { bornYear: 2019, version: 2 },
  })
  expect((await records.audit.page('d', { limit: 9 })).entries).toMatchObject([
    { actor: 'Rowan Vale', action: 'dog.changed', sessionId: null },
    { actor: 'Rowan Vale', action: 'edits.changed', sessionId: 'done' },
  ])
})

it('a database of a newer version is refused with what to do, and left as it is', async () => {
  const dataDir = await temporaryDir()
  await (await openSqliteStore(dataDir, 1)).close()
  const file = new Sqlite(join(dataDir, 'swaybook.sqlite'))
  file.exec(`insert into kysely_migration values ('905-from-the-future', '2031-01-01T00:00:00.000Z')`)
  file.close()
  const refused = openSqliteStore(dataDir, 1)
  await expect(refused).rejects.toThrow(DataFolderError)
  await expect(refused).rejects.toThrow(/newer Swaybook.*905-from-the-future.*SWAYBOOK_DATA/)
  // The lock went with the refusal.
  const again = new Sqlite(join(dataDir, 'swaybook.sqlite'))
  again.exec(`delete from kysely_migration where name like '905%'`)
  again.close()
  await (await openSqliteStore(dataDir, 1)).close()
})

it('a database of the first release keeps everything when it is brought up to date', async () => {
  const dataDir = await temporaryDir()
  expect(await databaseOfFirstRelease(dataDir)).toBe(TABLES_OF_001)

  for (let opening = 1; opening <= 2; opening++) {
    const store = await openSqliteStore(dataDir, 1)
    onTestFinished(() => store.close().catch(() => undefined))
    const { records, series } = store
    expect(await records.dogs()).toMatchObject([{ id: 'd', name: 'Juniper', weightKg: 27, sessions: 2 }])
    expect(await records.session('done')).toMatchObject({
      setUp: { exercise: 'stand', surface: 'foam pad' },
      state: 'finished',
      startedAt: '2026-03-01T17:30:00.000Z',
      durationS: 0.5,
      swayMs2: 0.08,
      planned: null,
      checkIn: null,
    })
    expect((await records.session('done'))!.setUp).not.toHaveProperty('foreToHindCm')
    expect(await records.session('open')).toMatchObject({ state: 'recording', setUp: null, planned: null })
    expect(await records.sensorDescription('done')).toBeNull()
    expect(await records.marks('done')).toEqual([{ id: 'm', atS: 0.2, kind: 'note', note: 'slipped' }])
    expect(await records.report('done')).toEqual({ version: '2' })
    expect(await records.timeline('done')).toEqual({ durationS: 0.5 })
    expect(await records.hold('done', 0)).toEqual({ index: 0 })
    expect(await series.stream('s')).toMatchObject({ sessionId: 'done', rateHz: 100, resolutionMs2: 0.005 })
    expect(await series.state('s')).toEqual({ nextIndex: 60, complete: true })
    expect(await series.lostRanges('s')).toEqual([{ firstIndex: 50, count: 10 }])
    expect(await storedSamples(store, 's')).toEqual(
      Array.from({ length: 50 }, (_, i) => [i, ...columns.map((column) => column[i])]),
    )
    await store.close()
  }

  // What is new works on the old rows.
  const store = await openSqliteStore(dataDir, 1)
  onTestFinished(() => store.close())
  expect(await store.records.plans.add('d', 0, madePlan())).toMatchObject({ version: 1 })
  expect(await store.records.checkIns.set('done', { answer: 'normal' })).toMatchObject({ kind: 'changed' })
  expect((await store.records.session('done'))!.checkIn).toMatchObject({ answer: 'normal', note: null })
})
