import { truncateSync } from 'node:fs'
import { cp, mkdtemp, rm, stat } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { JSON_COLUMNS } from '#server/upkeep/check-json'
import { verify } from '#server/upkeep/verify'
import { temporaryDir } from '../helpers/build-app.ts'
import { commandIsBuilt, swaybook } from './command.ts'
import { flipBit, storeFullDog, storeSession, tamper } from './stored-data.ts'

beforeAll(commandIsBuilt, 120_000)

let made: Promise<string> | null = null

/** Made within the first test that asks: helpers clean up after a test. */
function fullFolder(): Promise<string> {
  return (made ??= (async () => {
    const dir = await mkdtemp(join(tmpdir(), 'swaybook-test-'))
    await storeFullDog(dir)
    return dir
  })())
}
afterAll(async () => {
  if (made) await rm(await made, { recursive: true, force: true })
})

async function copyOfFull(): Promise<string> {
  const dir = await temporaryDir()
  await cp(await fullFolder(), dir, { recursive: true })
  return dir
}

describe('verify', () => {
  it('finds nothing wrong in the data of a dog with content in every table', async () => {
    const { findings, counts } = await verify(await fullFolder())
    expect(findings).toEqual([])
    expect(counts.streams).toBeGreaterThan(3)
    expect(counts.samples).toBeGreaterThan(1000)
    expect(counts.lost).toBeGreaterThan(0)
  })

  it('looks at every column that holds JSON', async () => {
    const raw = new Sqlite(join(await fullFolder(), 'swaybook.sqlite'), { readonly: true })
    const tables = raw
      .prepare<[], string>("select name from sqlite_master where type = 'table' and name not like 'kysely%'")
      .pluck()
      .all()
    const found = tables.flatMap((table) =>
      (raw.pragma(`table_info(${table})`) as { name: string; type: string }[])
        .filter(({ name, type }) => {
          if (type.toLowerCase() !== 'text') return false
          const values = raw.prepare<[], string | null>(`select ${name} from ${table}`).pluck().all()
          return values.some((value) => value !== null && isJsonDocument(value))
        })
        .map(({ name }) => `${table}.${name}`),
    )
    raw.close()
    const looked = JSON_COLUMNS.map(({ table, column }) => `${table}.${column}`)
    expect(looked.toSorted()).toEqual(found.toSorted())
  })

  it('a flipped bit is found, and the block is named by stream, session, dog, indexes and time', async () => {
    const dir = await temporaryDir()
    await storeSession(dir, 'Juniper')
    flipBit(dir, 'stream-Juniper', 2000)
    const { code, out } = await swaybook('verify', '--data', dir)
    expect(code).toBe(3)
    expect(out).toContain('1 wrong')
    expect(out).toContain(
      'damaged block: stream stream-Juniper in session session-Juniper of dog dog-Juniper (Juniper), ' +
        'index 2000 to 3999, 2026-03-01T10:00:20.000Z to 2026-03-01T10:00:40.000Z',
    )
    const json = JSON.parse((await swaybook('verify', '--json', '--data', dir)).out)
    expect(json.findings).toHaveLength(1)
    expect(json.findings[0].samples).toMatchObject({ dogId: 'dog-Juniper', firstIndex: 2000, endIndex: 4000 })
  })

  it.each([
    [
      'a block that is gone',
      (raw: Sqlite.Database) => raw.exec('delete from sample_blocks where first_index = 2000'),
      /neither stored nor declared lost: stream stream-Juniper .* index 2000 to 3999/,
    ],
    [
      'a last block that is gone',
      (raw: Sqlite.Database) => raw.exec('delete from sample_blocks where first_index = 4000'),
      /acknowledged and missing: .* index 4000 to 5999/,
    ],
    [
      'a loss that was declared over samples',
      (raw: Sqlite.Database) => raw.exec("insert into lost_ranges values ('stream-Juniper', 2500, 10)"),
      /stored twice \(a lost range overlaps\): .* index 2500 to 2509/,
    ],
    [
      'an end that was set back',
      (raw: Sqlite.Database) => raw.exec('update streams set next_index = 5500'),
      /stored beyond the acknowledged end: .* index 5500 to 5999/,
    ],
    [
      'a session without its dog',
      (raw: Sqlite.Database) => raw.exec('delete from dogs'),
      /1 rows of sessions belong to nothing in dogs/,
    ],
    [
      'a newer version',
      (raw: Sqlite.Database) => raw.exec("insert into kysely_migration values ('999-later', '')"),
      /written by a newer Swaybook \(it has 999-later\)/,
    ],
    [
      'an index that misses a row',
      (raw: Sqlite.Database) => {
        raw.unsafeMode(true)
        raw.pragma('writable_schema = ON')
        raw.exec(
          "update sqlite_master set sql = 'create index sessions_newest on sessions (id)' where name = 'sessions_newest'",
        )
      },
      /integrity check: /,
    ],
  ])('%s is told', async (_, change, words) => {
    const dir = await temporaryDir()
    await storeSession(dir, 'Juniper')
    tamper(dir, change)
    const { findings } = await verify(dir)
    expect(findings.map(({ text }) => text).join('\n')).toMatch(words)
  })

  it.each([
    [
      'broken text',
      "update reports set report = '{' where rowid = 1",
      /reports.report of session_id .*: not JSON/,
    ],
    [
      'another shape',
      "update reports set report = json_set(report, '$.quality.verdict', 'splendid')",
      /reports.report of session_id .*: value.quality.verdict/,
    ],
    [
      'a plan',
      "update plans set plan = json_remove(plan, '$.setBy')",
      /plans.plan of dog_id .*, version 1: value/,
    ],
    [
      'a sign',
      `update repetition_notes set signs = '["bored"]'`,
      /repetition_notes.signs of session_id .* value.0/,
    ],
    ['a hold that is gone', 'delete from holds', /session .* of dog .* counts \d+ holds, 0 are stored/],
    ['a report that is gone', 'delete from reports', /session .* of dog .* is finished and has no report/],
    [
      'a version that differs',
      "update sessions set analysis_version = '1' where state = 'finished'",
      /says analysis 1, its report \d/,
    ],
  ])('%s in what was written is told with its place', async (_, sql, words) => {
    const dir = await copyOfFull()
    tamper(dir, (raw) => raw.exec(sql))
    const { findings } = await verify(dir)
    expect(findings.map(({ text }) => text).join('\n')).toMatch(words)
  })

  it('says of reports of another analysis that they are, which is nothing wrong', async () => {
    const dir = await copyOfFull()
    tamper(dir, (raw) => {
      raw.exec("update sessions set analysis_version = '1' where state = 'finished'")
      raw.exec("update reports set analysis_version = '1'")
    })
    const { findings, notes } = await verify(dir)
    expect(findings).toEqual([])
    expect(notes.join()).toMatch(/reports are of another analysis than/)
  })

  it('a database cut short and a folder without one are told in one line, exit code 3', async () => {
    const dir = await copyOfFull()
    truncateSync(
      join(dir, 'swaybook.sqlite'),
      Math.floor((await stat(join(dir, 'swaybook.sqlite'))).size / 2),
    )
    const cut = await swaybook('verify', '--data', dir)
    expect(cut.code).toBe(3)
    expect(cut.out + cut.err).toMatch(/malformed|cannot be opened|integrity check/)
    const none = await swaybook('verify', '--data', join(dir, 'nowhere'))
    expect(none).toMatchObject({ code: 3, out: '' })
    expect(none.err).toMatch(/^swaybook: there is no .*swaybook\.sqlite: .*--data.*\n$/)
  })
})

function isJsonDocument(text: string): boolean {
  if (!/^[[{]/.test(text)) return false
  try {
    JSON.parse(text)
    return true
  } catch {
    return false
  }
}
