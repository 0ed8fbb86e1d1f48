import { cpSync, mkdirSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { Kysely, Migrator, SqliteDialect } from 'kysely'
import { beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { lockFolder } from '#server/store/sqlite/folder-lock'
import { MIGRATIONS } from '#server/store/sqlite/migrations'
import { verify } from '#server/upkeep/verify'
import { temporaryDir } from '../helpers/build-app.ts'
import { startServer } from '../helpers/running-server.ts'
import { tmpfsDisk } from '../faults/small-disk.ts'
import { commandIsBuilt, swaybook } from './command.ts'
import { storeSession, tamper } from './stored-data.ts'

const LATER = Object.keys(MIGRATIONS).filter((name) => name !== '001-first')

beforeAll(commandIsBuilt, 120_000)

/** A data folder as the first release left it, with one dog. */
async function folderOfFirstRelease(): Promise<string> {
  const dataDir = join(await temporaryDir(), 'data')
  mkdirSync(dataDir)
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'))
  const db = new Kysely<unknown>({ dialect: new SqliteDialect({ database: raw }) })
  const provider = { getMigrations: async () => ({ '001-first': MIGRATIONS['001-first'] }) }
  expect((await new Migrator({ db, provider }).migrateToLatest()).error).toBeUndefined()
  raw.exec("insert into dogs values ('d', 'Juniper', null, 27, 68, null, 0, '2026-03-01T10:00:00.000Z')")
  await db.destroy()
  return dataDir
}

function migrationsIn(dataDir: string): string[] {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  try {
    return raw.prepare<[], string>('select name from kysely_migration order by name').pluck().all()
  } finally {
    raw.close()
  }
}

describe('migrate', () => {
  it('--check says what would be done and changes no byte', async () => {
    const dataDir = await folderOfFirstRelease()
    const before = readFileSync(join(dataDir, 'swaybook.sqlite'))
    const { code, out } = await swaybook('migrate', '--check', '--data', dataDir)
    expect(code).toBe(0)
    expect(out).toContain(`would get ${LATER.join(', ')}`)
    expect(readFileSync(join(dataDir, 'swaybook.sqlite'))).toEqual(before)
  })

  it('brings the database to this version; the copy made before restores the old one', async () => {
    const dataDir = await folderOfFirstRelease()
    const { code, out } = await swaybook('migrate', '--data', dataDir)
    expect(code).toBe(0)
    expect(migrationsIn(dataDir)).toEqual(Object.keys(MIGRATIONS))
    expect((await verify(dataDir)).findings).toEqual([])
    const copy = /is the backup (\S+)\. To/.exec(out)![1]
    expect(migrationsIn(copy)).toEqual(['001-first'])
    expect((await swaybook('restore', copy, '--replace', '--data', dataDir)).code).toBe(0)
    expect(migrationsIn(dataDir)).toEqual(['001-first'])
    // And there is nothing to do for one that is of this version.
    expect((await swaybook('migrate', '--data', dataDir)).code).toBe(0)
    const again = await swaybook('migrate', '--data', dataDir)
    expect(again).toMatchObject({ code: 0, err: '' })
    expect(again.out).toContain('is of this version')
  })

  it(
    'the start of a server makes the same copy first; the start after it makes none',
    { timeout: 120_000 },
    async () => {
      const dataDir = await folderOfFirstRelease()
      const server = await startServer({ dataFolder: dataDir })
      onTestFinished(() => server.kill())
      expect(await (await fetch(`${server.url}/api/dogs`)).json()).toMatchObject([
        { id: 'd', name: 'Juniper' },
      ])
      const copies = () => readdirSync(dataDir).filter((name) => name.startsWith('before-'))
      const [copy, ...others] = copies()
      expect(others).toEqual([])
      expect(server.stderr()).toMatch(/"event":"data.brought-up-to-date"/)
      expect(server.stderr()).toContain(join(dataDir, copy))
      await server.stop()
      expect(migrationsIn(dataDir)).toEqual(Object.keys(MIGRATIONS))
      expect(migrationsIn(join(dataDir, copy))).toEqual(['001-first'])
      expect((await verify(dataDir)).notes.join()).toContain(`${join(dataDir, copy)} is kept from an upgrade`)
      const again = await startServer({ dataFolder: dataDir })
      onTestFinished(() => again.kill())
      expect(copies()).toEqual([copy])
      await again.stop()
      expect((await swaybook('restore', join(dataDir, copy), '--replace', '--data', dataDir)).code).toBe(0)
      expect(migrationsIn(dataDir)).toEqual(['001-first'])
    },
  )

  it(
    'without room for the copy neither start nor command changes anything; elsewhere it can be made',
    { timeout: 120_000 },
    async () => {
      const dir = await temporaryDir()
      const disk = tmpfsDisk(dir)
      if (!disk) {
        if (process.env.CI) throw new Error('not run: mounting a tmpfs needs root')
        process.stderr.write(
          '\n*** NOT RUN: a disk without room for a copy (mounting a tmpfs needs root) ***\n',
        )
        return
      }
      const { dataFolder } = disk
      cpSync(await folderOfFirstRelease(), dataFolder, { recursive: true })
      disk.fill(process.pid)
      const words =
        /needs [\d.]+ MB, and \S+ has 0\.\d MB left\. Make room, or .*--copy-to FOLDER\. Nothing was changed\.\n$/
      const before = readFileSync(join(dataFolder, 'swaybook.sqlite'))
      await expect(startServer({ dataFolder })).rejects.toThrow(words)
      const command = await swaybook('migrate', '--data', dataFolder)
      expect(command.code).toBe(3)
      expect(command.err).toMatch(words)
      expect(readFileSync(join(dataFolder, 'swaybook.sqlite'))).toEqual(before)
      expect(readdirSync(dataFolder).filter((name) => name.startsWith('before-'))).toEqual([])
      disk.empty(process.pid)
      mkdirSync(join(dir, 'elsewhere'))
      const done = await swaybook('migrate', '--copy-to', join(dir, 'elsewhere'), '--data', dataFolder)
      expect(done.code).toBe(0)
      expect(done.out).toContain(join(dir, 'elsewhere', 'before-002-'))
      expect(migrationsIn(dataFolder)).toEqual(Object.keys(MIGRATIONS))
    },
  )

  it('refuses a newer version and a running server, and changes nothing', async () => {
    const dataDir = await folderOfFirstRelease()
    const letGo = lockFolder(dataDir)
    const running = await swaybook('migrate', '--data', dataDir)
    letGo()
    expect(running.code).toBe(3)
    expect(running.err).toMatch(/in use by another running Swaybook/)
    expect(migrationsIn(dataDir)).toEqual(['001-first'])

    const newer = await temporaryDir()
    await storeSession(newer, 'Juniper')
    tamper(newer, (raw) => raw.exec("insert into kysely_migration values ('999-later', '')"))
    for (const options of [['--check'], []]) {
      const { code, err } = await swaybook('migrate', ...options, '--data', newer)
      expect(code).toBe(3)
      expect(err).toMatch(/newer Swaybook \(it has 999-later\)/)
    }
  })
})
