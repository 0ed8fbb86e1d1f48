import type { Store } from '../store.ts'
import { ArchiveWriter } from './archive-writer.ts'
import { openConnection } from './connection.ts'
import { SqliteRecords } from './records.ts'
import { DirectSampleWriter } from './sample-writer.ts'
import { SqliteTimeSeries } from './time-series.ts'

/** A store that is thrown away when it is not adopted. */
export interface Staging {
  readonly writer: ArchiveWriter
  /** The same rows, for reading and analysing. */
  readonly store: Pick<Store, 'records' | 'series'>
  close(): Promise<void>
}

/** A staging store in the empty folder `dataDir`. */
export async function openStaging(dataDir: string): Promise<Staging> {
  const connection = await openConnection(dataDir)
  const { raw } = connection
  // Nothing here needs to survive anything, but the file must be whole when it is closed.
  raw.pragma('journal_mode = MEMORY')
  raw.pragma('synchronous = OFF')
  raw.pragma('secure_delete = OFF')
  const samples = new DirectSampleWriter(raw, 0, (error) => {
    throw error
  })
  return {
    writer: new ArchiveWriter(connection),
    store: { records: new SqliteRecords(connection), series: new SqliteTimeSeries(connection, samples) },
    async close() {
      await samples.close()
      await connection.db.destroy()
    },
  }
}
