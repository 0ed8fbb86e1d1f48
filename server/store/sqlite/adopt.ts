import { setImmediate as nextTurn } from 'node:timers/promises'
import { join } from 'node:path'
import type { Database as SqliteDatabase } from 'better-sqlite3'
import { IdTakenError } from '../archives.ts'
import type { Adoption } from '../archives.ts'
import { auditQuery } from './audit.ts'
import type { Connection } from './connection.ts'
import { roleInsert } from './people/roles.ts'

/** Large rows, keyed by ids that nothing refers to before their sessions come: copied a few at a time. */
const BULKY = [
  { table: 'sample_blocks', owner: 'stream_id', owners: 'streams' },
  { table: 'reports', owner: 'session_id', owners: 'sessions' },
  { table: 'holds', owner: 'session_id', owners: 'sessions' },
] as const
const ROWS_AT_ONCE = 16

/** The rest, small, in one transaction; what they refer to first. */
const TOGETHER = [
  'dogs',
  'plans',
  'diary_entries',
  'trend_settings',
  'sessions',
  'check_ins',
  'marks',
  'hold_edits',
  'repetition_notes',
  'streams',
  'lost_ranges',
  'audit',
] as const

/** Columns that count through the rows of all dogs: given anew. */
const COUNTED: Readonly<Record<string, string>> = { marks: 'seq', audit: 'seq' }

/**
 * Copies the dog of the store in the folder `dataDir` into this one. Bulky rows come first, in small
 * transactions with the event loop in between, and belong to nobody until the last transaction brings dog,
 * sessions and streams at once. When it fails they go again; when the process dies, at the next start
 * (see `removeOrphans`).
 * @throws {IdTakenError} when the dog, a session or a stream exists here
 */
export async function adopt(
  { db, raw, together }: Connection,
  dataDir: string,
  { by, detail }: Adoption,
): Promise<void> {
  raw.prepare('attach ? as staged').run(join(dataDir, 'swaybook.sqlite'))
  try {
    requireFree(raw)
    try {
      for (const { table } of BULKY) await copyBulky(raw, table)
      together(({ run }) => {
        requireFree(raw)
        for (const table of TOGETHER) copy(raw, table)
        const [{ id: dogId }] = raw.prepare<[], { id: string }>('select id from staged.dogs').all()
        if (by.personId !== null) run(roleInsert(db, dogId, by.personId, 'owner'))
        run(auditQuery(db, by, { dogId, action: 'dog.imported', detail }))
      })
    } catch (error) {
      removeCopied(raw)
      throw error
    }
  } finally {
    raw.exec('detach staged')
  }
}

/** Removes what an import that died with its process left: rows that belong to nobody. */
export function removeOrphans(raw: SqliteDatabase): void {
  for (const { table, owner, owners } of BULKY) {
    raw.exec(`delete from ${table} where ${owner} not in (select id from ${owners})`)
  }
  raw.pragma('wal_checkpoint(TRUNCATE)')
}

function requireFree(raw: SqliteDatabase): void {
  for (const [what, table] of [
    ['dog', 'dogs'],
    ['session', 'sessions'],
    ['stream', 'streams'],
    ['diary entry', 'diary_entries'],
  ] as const) {
    const taken = raw
      .prepare<[], { id: string }>(
        `select id from staged.${table} where id in (select id from main.${table})`,
      )
      .get()
    if (taken) throw new IdTakenError(what, taken.id)
  }
}

async function copyBulky(raw: SqliteDatabase, table: string): Promise<void> {
  const last = raw.prepare(`select coalesce(max(rowid), 0) from staged.${table}`).pluck().get() as number
  for (let from = 1; from <= last; from += ROWS_AT_ONCE) {
    // Their owners come later. The pragma does nothing within a transaction; nothing else runs meanwhile.
    raw.pragma('foreign_keys = OFF')
    try {
      copy(raw, table, `where rowid >= ${from} and rowid < ${from + ROWS_AT_ONCE}`)
    } finally {
      raw.pragma('foreign_keys = ON')
    }
    await nextTurn()
  }
}

function copy(raw: SqliteDatabase, table: string, where = ''): void {
  const columns = (raw.pragma(`main.table_info(${table})`) as { name: string }[])
    .map(({ name }) => name)
    .filter((name) => name !== COUNTED[table])
    .join(', ')
  raw.exec(
    `insert into main.${table} (${columns}) select ${columns} from staged.${table} ${where} order by rowid`,
  )
}

function removeCopied(raw: SqliteDatabase): void {
  for (const { table, owner, owners } of BULKY) {
    raw.exec(
      `delete from main.${table} where ${owner} in (select id from staged.${owners})
         and ${owner} not in (select id from main.${owners})`,
    )
  }
}
