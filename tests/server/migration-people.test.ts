import { createHash } from 'node:crypto'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import { Kysely, Migrator, SqliteDialect } from 'kysely'
import { expect, it, onTestFinished } from 'vitest'
import { MIGRATIONS } from '#server/store/sqlite/migrations'
import { openSqliteStore } from '#server/store/sqlite/store'
import { temporaryDir } from '../helpers/build-app.ts'

/** SHA-256 of the tables as 004 leaves them: a released migration never changes. */
const TABLES_AFTER_004 = '888901d330af3ed3a793a51f8d0e323b93e9a9fe5c377001c794fc849dceb2ab'

/** A database as 004 left it: two dogs, one of them with a line in its trail. */
async function databaseOf004(dataDir: string): Promise<string> {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'))
  const db = new Kysely<unknown>({ dialect: new SqliteDialect({ database: raw }) })
  const known = Object.fromEntries(Object.entries(MIGRATIONS).filter(([name]) => name <= '004-programme'))
  const provider = { getMigrations: async () => known }
  expect((await new Migrator({ db, provider }).migrateToLatest()).error).toBeUndefined()
  const tables = raw.prepare('select sql from sqlite_master where sql is not null order by name').pluck()
  const hash = createHash('sha256').update(tables.all().join('\n')).digest('hex')
  raw.exec(`
    insert into dogs (id, name, demo, created_at) values
      ('juniper', 'Juniper', 0, '2026-03-01T10:00:00.000Z'), ('bramble', 'Bramble', 0, '2026-03-02T10:00:00.000Z');
    insert into audit (at, dog_id, actor, action, detail)
      values ('2026-03-01T10:00:00.000Z', 'juniper', 'this computer', 'dog.created', '{}');
  `)
  await db.destroy()
  return hash
}

async function opened(dataDir: string) {
  const store = await openSqliteStore(dataDir, 1)
  onTestFinished(() => store.close().catch(() => undefined))
  return store
}

it('whoever had the computer becomes the first person and owner of every dog of before, once', async () => {
  const dataDir = await temporaryDir()
  expect(await databaseOf004(dataDir)).toBe(TABLES_AFTER_004)
  const first = await opened(dataDir)
  const keeper = await first.people.keeper()
  expect(keeper).toMatchObject({ keeper: true, passwordHash: null, secondFactor: null, lockedAt: null })
  expect(await first.people.hasPassword()).toBe(false)
  for (const dogId of ['juniper', 'bramble']) {
    expect(await first.people.roles.ofDog(dogId)).toMatchObject([{ personId: keeper.id, role: 'owner' }])
  }
  expect((await first.records.audit.page('juniper', { limit: 9 })).entries).toMatchObject([
    { actor: 'this computer', action: 'dog.created' },
  ])
  await first.close()
  const second = await opened(dataDir)
  expect(await second.people.all()).toEqual([keeper])
})

it('an empty database begins with the first person, who owns what is added', async () => {
  const store = await opened(await temporaryDir())
  const { id, name } = await store.people.keeper()
  await store.records.addDog({ id: 'juniper', name: 'Juniper' }, { name, personId: id })
  expect(await store.people.roles.role(id, 'juniper')).toBe('owner')
  expect(await store.records.dogs(id)).toMatchObject([{ id: 'juniper' }])
  expect(await store.records.dogs('somebody else')).toEqual([])
})

it('a dog without any owner falls to the first person at the next start, so that it is never out of reach', async () => {
  const dataDir = await temporaryDir()
  const first = await opened(dataDir)
  await first.records.addDog({ id: 'juniper', name: 'Juniper' })
  const { id } = await first.people.keeper()
  expect(await first.people.roles.role(id, 'juniper')).toBeNull()
  await first.close()
  expect(await (await opened(dataDir)).people.roles.role(id, 'juniper')).toBe('owner')
})

it('deleting a dog takes roles, invitations, shares and the passes they gave along', async () => {
  const dataDir = await temporaryDir()
  const { people, records } = await opened(dataDir)
  const { id: personId, name } = await people.keeper()
  const by = { name, personId }
  await records.addDog({ id: 'juniper', name: 'Juniper' }, by)
  const link = { dogId: 'juniper', expiresAt: '2999-01-01T00:00:00.000Z' }
  await people.invitations.add(
    { ...link, id: 'i', role: 'viewer', note: 'for the vet', secretHash: 'h1' },
    by,
  )
  const scope = { kind: 'report', from: '2026-01-01', to: '2026-02-01', questions: 'Why?' } as const
  await people.shares.add({ ...link, id: 's', scope, secretHash: 'h2' }, by)
  const pass = {
    personId: null,
    shareId: 's',
    sessionId: null,
    device: '',
    createdAtMs: 0,
    expiresAtMs: 9e15,
  }
  await people.passes.add({ ...pass, hash: 'p', id: 'p', kind: 'share' })
  expect(await people.shares.find('s', new Date())).not.toBeNull()

  expect(await records.deleteDog('juniper', by)).toBe(true)
  expect(await people.roles.ofDog('juniper')).toEqual([])
  expect(await people.invitations.find('h1', new Date())).toBeNull()
  expect(await people.shares.find('s', new Date())).toBeNull()
  expect(await people.passes.find('p')).toBeNull()
  // The trail of the installation says that it went, and no word of it.
  const [newest] = (await people.events.page({ limit: 1 })).entries
  expect(newest).toMatchObject({ action: 'dog.deleted', dogId: null, detail: {} })
})
