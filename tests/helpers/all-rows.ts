import { copyFile, mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'

type Rows = Record<string, Record<string, unknown>[]>

/** What is given anew to rows that come back. */
const GIVEN_ANEW: Readonly<Record<string, readonly string[]>> = {
  marks: ['seq'],
  // An account is of one installation: the name of who did it travels, the account does not.
  audit: ['seq', 'actor_id'],
  reports: ['created_at'],
}
/** Of the installation, not of a dog: who may come in is no part of an archive. */
const OF_THE_INSTALLATION: readonly string[] = [
  'people',
  'recovery_codes',
  'roles',
  'invitations',
  'shares',
  'passes',
  'security_events',
]
/** Tables in the order of a counter: compared in that of their ids. */
const ORDER: Readonly<Record<string, string>> = { marks: 'session_id, id' }

/**
 * Every row of every table in the database of `dataDir`, read beside whoever has it open, but for the packing
 * of sample blocks (compared as samples) and counters.
 */
export async function allRows(dataDir: string): Promise<Rows> {
  const copy = await mkdtemp(join(tmpdir(), 'swaybook-rows-'))
  try {
    for (const end of ['', '-wal']) {
      await copyFile(join(dataDir, `swaybook.sqlite${end}`), join(copy, `s.sqlite${end}`)).catch(
        () => undefined,
      )
    }
    const raw = new Sqlite(join(copy, 's.sqlite'))
    const tables = tablesOf(raw)
    const rows: Rows = {}
    for (const table of tables.filter((name) => name !== 'sample_blocks')) {
      const key = (raw.pragma(`table_info(${table})`) as { name: string; pk: number }[])
        .filter(({ pk }) => pk > 0)
        .map(({ name }) => name)
      const found = raw.prepare(`select * from ${table} order by ${ORDER[table] ?? key.join(', ')}`).all()
      rows[table] = (found as Record<string, unknown>[]).map((row) =>
        Object.fromEntries(Object.entries(row).filter(([name]) => !GIVEN_ANEW[table]?.includes(name))),
      )
    }
    raw.close()
    return rows
  } finally {
    await rm(copy, { recursive: true, force: true })
  }
}

/**
 * Columns of all tables in the database of `dataDir`, as `table.column`, in which no row holds anything but
 * what a row has when nobody says (null, or the column's default); `table` alone for one without rows.
 */
export function columnsWithoutContent(dataDir: string): string[] {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  try {
    const isThere = (table: string, where: string) =>
      raw.prepare(`select exists (select 1 from ${table} where ${where})`).pluck().get() === 1
    return tablesOf(raw).flatMap((table) => {
      if (!isThere(table, 'true')) return [table]
      const columns = raw.pragma(`table_info(${table})`) as { name: string; dflt_value: string | null }[]
      return columns
        .filter(({ name }) => !(table === 'audit' && name === 'actor_id'))
        .filter(({ name, dflt_value }) => !isThere(table, `${name} is not ${dflt_value ?? 'null'}`))
        .map(({ name }) => `${table}.${name}`)
    })
  } finally {
    raw.close()
  }
}

/** All but where another server keeps samples: that is of this machine, not of the dog. */
function tablesOf(raw: Sqlite.Database): string[] {
  return raw
    .prepare<[], string>(
      String.raw`select name from sqlite_master
       where type = 'table' and name not like 'kysely%' and name not like 'sqlite%' and name not like 'series\_%' escape '\'
       order by name`,
    )
    .pluck()
    .all()
    .filter((table) => !OF_THE_INSTALLATION.includes(table))
}
