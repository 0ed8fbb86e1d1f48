import { copyFile, mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import Sqlite from 'better-sqlite3'

type Rows = Record<string, Record<string, unknown>[]>

/** What is given anew to rows that come back. */
const GIVEN_ANEW: Readonly<Record<string, readonly string[]>> = {
  marks: ['seq'],
  audit: ['seq'],
  reports: ['created_at'],
}
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
    const tables = raw
      .prepare(
        `select name from sqlite_master where type = 'table' and name not like 'kysely%' order by name`,
      )
      .pluck()
      .all() as string[]
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
