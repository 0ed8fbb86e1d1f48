import type { Database as SqliteDatabase } from 'better-sqlite3'

/** Rows of every table of ours, by its name. */
export function rowCounts(raw: SqliteDatabase): Record<string, number> {
  const tables = raw
    .prepare<[], string>("select name from sqlite_master where type = 'table' order by name")
    .pluck()
    .all()
    .filter((name) => !/^(sqlite|kysely)_/.test(name))
  return Object.fromEntries(
    tables.map((table) => [table, raw.prepare(`select count(*) from "${table}"`).pluck().get() as number]),
  )
}
