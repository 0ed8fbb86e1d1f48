import { DataFolderError, makeDataFolder } from '../data-folder.ts'
import { EMBEDDED_SERIES } from '../series-status.ts'
import type { Store } from '../store.ts'
import { SqliteArchives } from './archives.ts'
import { openConnection } from './connection.ts'
import type { Connection } from './connection.ts'
import { lockFolder } from './folder-lock.ts'
import { adoptOwnerless } from './people/ownerless-dogs.ts'
import { SqlitePeople } from './people/people.ts'
import { SqliteRecords } from './records.ts'
import { removeInterruptedImports } from './interrupted-imports.ts'
import { DirectSampleWriter } from './sample-writer.ts'
import type { SampleWriter } from './sample-writer.ts'
import { ThreadedSampleWriter } from './threaded-writer.ts'
import { SqliteTimeSeries } from './time-series.ts'

/** What a store in `dataDir` is made of. */
export interface SqliteParts {
  readonly connection: Connection
  readonly writer: SampleWriter
  /** Lets go of the folder, once all else is closed. */
  readonly release: () => void
}

/**
 * The embedded store in `dataDir` (`:memory:` for none on disk). `onProblem` is told what went wrong
 * where nobody waits for it; nothing is lost then.
 * @throws {DataFolderError} when the folder cannot be used, another server has it, or its samples are elsewhere
 */
export async function openSqliteStore(
  dataDir: string,
  commitMs: number,
  onProblem: (error: unknown) => void = rethrow,
): Promise<Store> {
  const { connection, writer, release } = await openSqliteParts(dataDir, commitMs, onProblem)
  const close = async () => {
    await writer.close()
    await connection.db.destroy()
    release()
  }
  try {
    requireAllEmbedded(connection.raw, dataDir)
  } catch (error) {
    await close()
    throw error
  }
  // Nothing waits to go elsewhere.
  connection.raw.exec('drop index if exists sample_blocks_waiting')
  const series = new SqliteTimeSeries(connection, writer)
  return {
    records: new SqliteRecords(connection),
    series,
    archives: new SqliteArchives(connection),
    seriesStatus: () => EMBEDDED_SERIES,
    onSeriesBack: () => undefined,
    onDamaged: (listener) => series.onDamaged(listener),
    people: new SqlitePeople(connection),
    close,
  }
}

/** @throws {DataFolderError} when the folder cannot be used, or another server has it */
export async function openSqliteParts(
  dataDir: string,
  commitMs: number,
  onProblem: (error: unknown) => void,
): Promise<SqliteParts> {
  const release = dataDir === ':memory:' ? () => undefined : takeFolder(dataDir)
  const connection = await openConnection(dataDir).catch((error: unknown) => {
    release()
    throw error
  })
  await removeInterruptedImports(dataDir, connection.raw)
  adoptOwnerless(connection.raw)
  // What is in memory belongs to one connection.
  const writer =
    dataDir === ':memory:'
      ? new DirectSampleWriter(connection.raw, commitMs, onProblem)
      : new ThreadedSampleWriter(dataDir, commitMs, onProblem)
  return { connection, writer, release }
}

function requireAllEmbedded(raw: Connection['raw'], dataDir: string): void {
  const query = `select (select count(*) from series_places where exists
      (select 1 from sample_blocks where encoding = 'influx' and sample_blocks.stream_id = series_places.stream_id)
    ) + (select count(*) from series_deletions)`
  if (raw.prepare<[], number>(query).pluck().get() === 0) return
  throw new DataFolderError(
    `The samples of ${dataDir} are in InfluxDB. Set SWAYBOOK_SERIES=influx with its INFLUX_ settings, or bring them ` +
      'back first: npx swaybook migrate-series --to sqlite',
  )
}

function rethrow(error: unknown): never {
  throw error
}

function takeFolder(dataDir: string): () => void {
  makeDataFolder(dataDir)
  return lockFolder(dataDir)
}
