import { makeDataFolder } from '../data-folder.ts'
import { EMBEDDED_SERIES } from '../series-status.ts'
import type { Store } from '../store.ts'
import { SqliteArchives } from './archives.ts'
import { openConnection } from './connection.ts'
import { lockFolder } from './folder-lock.ts'
import { adoptOwnerless } from './people/ownerless-dogs.ts'
import { SqlitePeople } from './people/people.ts'
import { SqliteRecords } from './records.ts'
import { removeInterruptedImports } from './interrupted-imports.ts'
import { DirectSampleWriter } from './sample-writer.ts'
import { ThreadedSampleWriter } from './threaded-writer.ts'
import { SqliteTimeSeries } from './time-series.ts'

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
  await removeInterruptedImports(dataDir, connection.raw)
  adoptOwnerless(connection.raw)
  // What is in memory belongs to one connection.
  const writer =
    dataDir === ':memory:'
      ? new DirectSampleWriter(connection.raw, commitMs, onProblem)
      : new ThreadedSampleWriter(dataDir, commitMs, onProblem)
  return {
    records: new SqliteRecords(connection),
    series: new SqliteTimeSeries(connection, writer),
    archives: new SqliteArchives(connection),
    seriesStatus: () => EMBEDDED_SERIES,
    onSeriesBack: () => undefined,
    people: new SqlitePeople(connection),
    async close() {
      await writer.close()
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
