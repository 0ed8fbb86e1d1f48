import type { Store } from '../store.ts'
import { CommitQueue } from './commit-queue.ts'
import { openConnection } from './connection.ts'
import { SqliteRecords } from './records.ts'
import { SqliteTimeSeries } from './time-series.ts'

/** The embedded store in `dataDir` (`:memory:` for none on disk). */
export async function openSqliteStore(dataDir: string, commitMs: number): Promise<Store> {
  const connection = await openConnection(dataDir)
  const queue = new CommitQueue(connection.raw, commitMs)
  return {
    records: new SqliteRecords(connection),
    series: new SqliteTimeSeries(connection, queue),
    async close() {
      queue.flush()
      await connection.db.destroy()
    },
  }
}
