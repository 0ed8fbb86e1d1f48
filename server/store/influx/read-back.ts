import type { Database as SqliteDatabase } from 'better-sqlite3'
import { encodeDeflated } from '../sqlite/block-codec.ts'
import type { BlockReplacement } from '../sqlite/sample-writer.ts'
import type { SampleBlocksTable } from '../sqlite/schema.ts'
import type { Places } from './places.ts'
import type { RemoteSamples } from './remote-samples.ts'

const BLOCKS_AT_ONCE = 16

/** Blocks of one stream that InfluxDB holds, read from there and ready to be kept in the database instead. */
export interface BlocksReadBack {
  readonly stream: string
  readonly replacements: readonly BlockReplacement[]
}

export interface ReadBackParts {
  /** The database whose rows say what InfluxDB holds. */
  readonly raw: SqliteDatabase
  readonly places: Places
  readonly remote: RemoteSamples
  /** What to keep of a block that cannot be had from InfluxDB; thrown on by default. */
  readonly otherwise?: (stream: string, error: unknown) => BlockReplacement['now']
}

/**
 * All blocks that InfluxDB holds, compared with their checksums, some at a time: whoever takes them replaces them
 * before asking for more.
 * @throws {InfluxError} when InfluxDB does not answer
 * @throws {CorruptBlockError} when it gives other samples than were stored
 */
export async function* blocksReadBack(parts: ReadBackParts): AsyncGenerator<BlocksReadBack, void, void> {
  const { raw, places, remote, otherwise = rethrown } = parts
  const next = raw
    .prepare<[], string>(`select stream_id from sample_blocks where encoding = 'influx' limit 1`)
    .pluck()
  const columnsOf = raw.prepare<[string], string>('select columns from streams where id = ?').pluck()
  const rowsOf = raw.prepare<[string, number], SampleBlocksTable>(
    `select * from sample_blocks where stream_id = ? and encoding = 'influx' order by first_index limit ?`,
  )
  for (let id = next.get(); id !== undefined; id = next.get()) {
    const stream = id
    const place = places.of(stream)
    if (!place) throw new Error(`it is not known where stream ${stream} lies in InfluxDB`)
    const columns = columnsOf.get(stream)!.split(',')
    const replacements: BlockReplacement[] = []
    for (const { first_index: firstIndex, count, dtype, encoding, crc32 } of rowsOf.all(
      stream,
      BLOCKS_AT_ONCE,
    )) {
      const block = { firstIndex, count, dtype, crc32 }
      const now = await remote.read({ id: stream, columns, place }, [block]).then(
        ([samples]) => encodeDeflated(samples),
        (error: unknown) => otherwise(stream, error),
      )
      replacements.push({ firstIndex, count, was: { encoding, crc32 }, now })
    }
    yield { stream, replacements }
  }
}

function rethrown(_stream: string, error: unknown): never {
  throw error
}
