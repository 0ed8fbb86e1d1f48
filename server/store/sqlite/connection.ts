import { join } from 'node:path'
import Sqlite from 'better-sqlite3'
import type { Database as SqliteDatabase } from 'better-sqlite3'
import { Kysely, Migrator, SqliteDialect } from 'kysely'
import type { CompiledQuery } from 'kysely'
import { DataFolderError } from '../data-folder.ts'
import { appliedMigrations, MIGRATIONS } from './migrations.ts'
import type { Tables } from './schema.ts'

/**
 * One connection, used in two ways. kysely runs single statements only: its transactions span
 * several turns of the event loop and would collide with the synchronous ones of `raw` on the same
 * connection. What must happen together is compiled and given to `atomically`.
 */
export interface Connection {
  readonly db: Kysely<Tables>
  readonly raw: SqliteDatabase
  atomically(queries: readonly CompiledQuery[]): void
  /**
   * Runs `work` as one transaction that begins for writing: nothing changes between what it reads and what it
   * writes. It must not await; when it throws, nothing of it is kept.
   */
  together<T>(work: (step: Step) => T): T
  /** One statement that only reads, at once: what several of them give without an await between belongs together. */
  readonly rows: Step['rows']
}

/** Statements within a transaction. */
export interface Step {
  readonly rows: <Row>(query: CompiledQuery<Row>) => Row[]
  /** Gives the number of rows changed. */
  readonly run: (query: CompiledQuery) => number
}

/**
 * Opens the database in the folder `dataDir` and brings its tables up to date.
 * @throws {DataFolderError} when a newer version wrote it; nothing is changed then
 */
export async function openConnection(dataDir: string): Promise<Connection> {
  const raw = openRaw(dataDir)
  try {
    requireKnownMigrations(raw, dataDir)
    const db = new Kysely<Tables>({ dialect: new SqliteDialect({ database: raw }) })
    await migrate(db, raw)
    const step: Step = {
      rows: <Row>({ sql, parameters }: CompiledQuery<Row>) => raw.prepare(sql).all(...parameters) as Row[],
      run: ({ sql, parameters }) => raw.prepare(sql).run(...parameters).changes,
    }
    const together = <T>(work: (step: Step) => T) => raw.transaction(() => work(step)).immediate()
    const atomically = (queries: readonly CompiledQuery[]) =>
      together(({ run }) => queries.forEach((query) => void run(query)))
    return { db, raw, atomically, together, rows: step.rows }
  } catch (error) {
    raw.close()
    throw error
  }
}

/** Opens the database as it is. */
export function openRaw(dataDir: string): SqliteDatabase {
  const raw = new Sqlite(databasePath(dataDir))
  try {
    raw.pragma('journal_mode = WAL')
    // An acknowledged sample survives a power cut: every commit is flushed to the disk.
    raw.pragma('synchronous = FULL')
    raw.pragma('foreign_keys = ON')
    // Deleted rows are overwritten, so that deleting a dog leaves nothing behind.
    raw.pragma('secure_delete = ON')
    // Samples are written by a thread of their own: the two connections wait for one another.
    raw.pragma('busy_timeout = 2000')
    return raw
  } catch (error) {
    raw.close()
    throw error
  }
}

/** Where the database of a data folder lies. */
export function databasePath(dataDir: string): string {
  return dataDir === ':memory:' ? ':memory:' : join(dataDir, 'swaybook.sqlite')
}

function requireKnownMigrations(raw: SqliteDatabase, dataDir: string): void {
  const unknown = appliedMigrations(raw).filter((name) => !(name in MIGRATIONS))
  if (unknown.length === 0) return
  throw new DataFolderError(
    `The data in ${dataDir} was written by a newer Swaybook (it has ${unknown.join(', ')}); nothing was changed. ` +
      'Start the newer version, or set SWAYBOOK_DATA to another folder.',
  )
}

/** All of it or nothing: kysely runs migrations of SQLite bare, and half of one could never be gone on with. */
async function migrate(db: Kysely<Tables>, raw: SqliteDatabase): Promise<void> {
  const migrator = new Migrator({ db, provider: { getMigrations: async () => MIGRATIONS } })
  raw.exec('begin')
  const { error } = await migrator.migrateToLatest()
  if (!error) return void raw.exec('commit')
  // A full disk has ended the transaction already.
  if (raw.inTransaction) raw.exec('rollback')
  throw new Error('the database could not be brought up to date', { cause: error })
}
