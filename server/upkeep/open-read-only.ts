import { existsSync } from 'node:fs'
import Sqlite from 'better-sqlite3'
import type { Database as SqliteDatabase } from 'better-sqlite3'
import { databasePath } from '../store/sqlite/connection.ts'
import { UpkeepError } from './upkeep-error.ts'

/**
 * Opens the database of a data folder for reading, beside a server that may be running on it.
 * @throws {UpkeepError} when there is none, or it is no database
 */
export function openReadOnly(dataDir: string): SqliteDatabase {
  const path = databasePath(dataDir)
  if (!existsSync(path)) {
    throw new UpkeepError(`there is no ${path}: give the folder of the data with --data, or SWAYBOOK_DATA`)
  }
  let raw: SqliteDatabase | null = null
  try {
    raw = new Sqlite(path, { readonly: true, timeout: 5000 })
    raw.prepare('select count(*) from sqlite_master').get()
    return raw
  } catch (cause) {
    raw?.close()
    const { message } = cause as Error
    throw new UpkeepError(`${path} cannot be opened: ${message}. Restore it from a backup.`, { cause })
  }
}
