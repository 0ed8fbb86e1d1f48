import { makeDataFolder } from '../data-folder.ts'
import type { Store } from '../store.ts'
import { CommitQueue } from './commit-queue.ts'
import { openConnection } from './connection.ts'
import { lockFolder } from './folder-lock.ts'
import { SqliteRecords } from './records.ts'
import { SqliteTimeSeries } from './time-series.ts'

/**
 * The embedded store in `dataDir` (`:memory:` for none on disk).
 * @throws {DataFolderError} when the folder cannot be used, or another server has it
 */
export async function openSqliteStore(dataDir: string, commitMs: number): Promise<Store> {
  const letGo = dataDir === ':memory:' ? () => undefined : takeFolder(dataDir)
  const connection = await openConnection(dataDir).catch((error: unknown) => {
    letGo()
    throw error
  })
  const queue = new CommitQueue(connection.raw, commitMs)
  return {
    records: new SqliteRecords(connection),
    series: new SqliteTimeSeries(connection, queue),
    async close() {
      queue.flush()
      await connection.db.destroy()
      letGo()
    },
  }
}

function takeFolder(dataDir: string): () => void {
  makeDataFolder(dataDir)
  return lockFolder(dataDir)
}
