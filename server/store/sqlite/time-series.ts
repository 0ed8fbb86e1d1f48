import { setImmediate as nextTurn } from 'node:timers/promises'
import type { Database as SqliteDatabase, Statement } from 'better-sqlite3'
import type {
  IndexRange,
  SampleBlock,
  SampleColumns,
  StreamRecord,
  StreamState,
  TimeSeries,
} from '../time-series.ts'
import { StreamGapError, StreamMissingError } from '../time-series.ts'
import { decodeBlock, encodeBlock } from './block-codec.ts'
import type { CommitQueue } from './commit-queue.ts'
import type { Connection } from './connection.ts'
import type { SampleBlocksTable, StreamsTable } from './schema.ts'

/** Blocks are read this many at a time, with a turn of the event loop between. */
const BLOCKS_PER_READ = 64

/** Longest block written, so that reading a part of a trace does not unpack all of it. */
const MAX_BLOCK_SAMPLES = 4096

export class SqliteTimeSeries implements TimeSeries {
  readonly #db: Connection['db']
  readonly #raw: SqliteDatabase
  readonly #queue: CommitQueue
  readonly #insertBlock: Statement
  readonly #insertLost: Statement
  readonly #nextIndex: Statement<[string], { next_index: number }>
  readonly #advance: Statement

  constructor({ db, raw }: Connection, queue: CommitQueue) {
    this.#db = db
    this.#raw = raw
    this.#queue = queue
    this.#insertBlock = raw.prepare(
      `insert into sample_blocks (stream_id, first_index, count, dtype, encoding, columns, crc32)
       values (?, ?, ?, ?, ?, ?, ?) on conflict do nothing`,
    )
    this.#insertLost = raw.prepare(
      'insert into lost_ranges (stream_id, first_index, count) values (?, ?, ?) on conflict do nothing',
    )
    this.#nextIndex = raw.prepare('select next_index from streams where id = ?')
    this.#advance = raw.prepare('update streams set next_index = ? where id = ?')
  }

  async addStream(stream: StreamRecord): Promise<void> {
    const row = {
      id: stream.id,
      session_id: stream.sessionId,
      kind: stream.kind,
      columns: stream.columns.join(','),
      rate_hz: stream.rateHz,
      started_at_us: stream.startedAtUs,
      resolution_ms2: stream.resolutionMs2,
      source: stream.source && JSON.stringify(stream.source),
    }
    await this.#db
      .insertInto('streams')
      .values(row)
      .onConflict((conflict) => conflict.column('id').doNothing())
      .execute()
  }

  async stream(id: string): Promise<StreamRecord | null> {
    const row = await this.#db.selectFrom('streams').selectAll().where('id', '=', id).executeTakeFirst()
    return row ? streamOf(row) : null
  }

  async streamOfSession(sessionId: string): Promise<StreamRecord | null> {
    const query = this.#db.selectFrom('streams').selectAll().where('session_id', '=', sessionId)
    const row = await query.executeTakeFirst()
    return row ? streamOf(row) : null
  }

  async state(id: string): Promise<StreamState> {
    const query = this.#db.selectFrom('streams').select(['next_index', 'complete']).where('id', '=', id)
    const row = await query.executeTakeFirst()
    if (!row) throw new StreamMissingError(`there is no stream ${id}`)
    return { nextIndex: row.next_index, complete: row.complete === 1 }
  }

  appendSamples(stream: string, firstIndex: number, columns: SampleColumns): Promise<number> {
    const count = columns.values[0].length
    return this.#queue.add(() => {
      const next = this.#requireContiguous(stream, firstIndex)
      for (let from = Math.max(next, firstIndex); from < firstIndex + count; from += MAX_BLOCK_SAMPLES) {
        const to = Math.min(from + MAX_BLOCK_SAMPLES, firstIndex + count)
        const values = columns.values.map((column) => column.subarray(from - firstIndex, to - firstIndex))
        const block = encodeBlock({ dtype: columns.dtype, values })
        const { dtype, encoding } = block
        this.#insertBlock.run(stream, from, to - from, dtype, encoding, block.columns, block.crc32)
      }
      return this.#advanceTo(stream, next, firstIndex + count)
    })
  }

  appendLost(stream: string, firstIndex: number, count: number): Promise<number> {
    return this.#queue.add(() => {
      const next = this.#requireContiguous(stream, firstIndex)
      const from = Math.max(next, firstIndex)
      if (from < firstIndex + count) this.#insertLost.run(stream, from, firstIndex + count - from)
      return this.#advanceTo(stream, next, firstIndex + count)
    })
  }

  async complete(stream: string): Promise<void> {
    await this.#db.updateTable('streams').set({ complete: 1 }).where('id', '=', stream).execute()
  }

  async *readSamples(stream: string, fromIndex: number, toIndex: number): AsyncIterable<SampleBlock> {
    const record = await this.stream(stream)
    if (!record) throw new StreamMissingError(`there is no stream ${stream}`)
    const read = this.#raw.prepare<[string, number, number, number], SampleBlocksTable>(
      `select * from sample_blocks where stream_id = ? and first_index > ? and first_index < ?
       order by first_index limit ?`,
    )
    // No block is longer than MAX_BLOCK_SAMPLES, so none that starts earlier can reach the range.
    let after = fromIndex - MAX_BLOCK_SAMPLES
    for (;;) {
      const rows = read.all(stream, after, toIndex, BLOCKS_PER_READ)
      for (const row of rows) {
        after = row.first_index
        if (row.first_index + row.count <= fromIndex) continue
        const block = decodeBlock({ ...row, firstIndex: row.first_index }, record.columns.length, stream)
        yield cut(block, fromIndex, toIndex)
      }
      if (rows.length < BLOCKS_PER_READ) return
      await nextTurn()
    }
  }

  async lostRanges(stream: string): Promise<IndexRange[]> {
    const query = this.#db.selectFrom('lost_ranges').where('stream_id', '=', stream).orderBy('first_index')
    return query.select(['first_index as firstIndex', 'count']).execute()
  }

  #requireContiguous(stream: string, firstIndex: number): number {
    const row = this.#nextIndex.get(stream)
    if (!row) throw new StreamMissingError(`there is no stream ${stream}`)
    if (firstIndex > row.next_index) throw new StreamGapError(stream, row.next_index)
    return row.next_index
  }

  #advanceTo(stream: string, next: number, end: number): number {
    if (end <= next) return next
    this.#advance.run(end, stream)
    return end
  }
}

function streamOf(row: Omit<StreamsTable, 'next_index' | 'complete'>): StreamRecord {
  return {
    id: row.id,
    sessionId: row.session_id,
    kind: row.kind,
    columns: row.columns.split(','),
    rateHz: row.rate_hz,
    startedAtUs: row.started_at_us,
    resolutionMs2: row.resolution_ms2,
    source: row.source === null ? null : JSON.parse(row.source),
  }
}

function cut(block: SampleBlock, fromIndex: number, toIndex: number): SampleBlock {
  const from = Math.max(0, fromIndex - block.firstIndex)
  const to = Math.min(block.count, toIndex - block.firstIndex)
  if (from === 0 && to === block.count) return block
  const values = block.values.map((column) => column.subarray(from, to))
  return { dtype: block.dtype, values, firstIndex: block.firstIndex + from, count: to - from }
}
