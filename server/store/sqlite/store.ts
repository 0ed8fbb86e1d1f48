import { makeDataFolder } from '../data-folder.ts'
import type { Store } from '../store.ts'
import { StreamGapError, StreamMissingError } from '../time-series.ts'
import { CommitQueue } from './commit-queue.ts'
import { Compaction } from './compaction.ts'
import { openConnection } from './connection.ts'
import { lockFolder } from './folder-lock.ts'
import { SqliteRecords } from './records.ts'
import { SqliteTimeSeries } from './time-series.ts'

const isRefusal = (error: unknown) => error instanceof StreamGapError || error instanceof StreamMissingError

/**
 * The embedded store in `dataDir` (`:memory:` for none on disk). `onProblem` is told what went wrong
 * where nobody waits for it; nothing is lost then.
 * @throws {DataFolderError} when the folder cannot be used, or another server has it
 */
export async function openSqliteStore(
  dataDir: string,
  commitMs: number,
  onProblem: (error: unknown) => void = rethrow,
): Promise<Store> {
  const letGo = dataDir === ':memory:' ? () => undefined : takeFolder(dataDir)
  const connection = await openConnection(dataDir).catch((error: unknown) => {
    letGo()
    throw error
  })
  const queue = new CommitQueue(connection.raw, commitMs, isRefusal)
  const compaction = new Compaction(connection.raw, queue, onProblem)
  return {
    records: new SqliteRecords(connection),
    series: new SqliteTimeSeries(connection, queue, compaction),
    async close() {
      await compaction.close()
      queue.flush()
      await connection.db.destroy()
      letGo()
    },
  }
}

function rethrow(error: unknown): never {
  throw error
}

function takeFolder(dataDir: string): () => void {
  makeDataFolder(dataDir)
  return lockFolder(dataDir)
}
