import { existsSync } from 'node:fs'
import { makeDataFolder } from '../store/data-folder.ts'
import type { People } from '../store/people/people.ts'
import { databasePath, openConnection } from '../store/sqlite/connection.ts'
import { lockFolder } from '../store/sqlite/folder-lock.ts'
import { SqlitePeople } from '../store/sqlite/people/people.ts'
import { requireMigrated } from './migrate.ts'

/**
 * Works on the accounts of a stopped server, wherever its samples lie; a folder without data gets its first account.
 * @throws {DataFolderError} when a server runs on the folder, or it may not be written to
 * @throws {UpkeepError} for data of another version
 */
export async function withPeopleOf<T>(dataDir: string, work: (people: People) => Promise<T>): Promise<T> {
  makeDataFolder(dataDir)
  const letGo = lockFolder(dataDir)
  try {
    if (existsSync(databasePath(dataDir))) requireMigrated(dataDir)
    const connection = await openConnection(dataDir)
    try {
      return await work(new SqlitePeople(connection))
    } finally {
      await connection.db.destroy()
    }
  } finally {
    letGo()
  }
}
