import { setImmediate as nextTurn } from 'node:timers/promises'
import type { Database as SqliteDatabase, Statement } from 'better-sqlite3'
import type {
  Arrival,
  IndexRange,
  SampleBlock,
  SampleColumns,
  StreamRecord,
  StreamState,
  TimeSeries,
} from '../time-series.ts'
import { StreamGapError, StreamMissingError } from '../time-series.ts'
import { arrivalsOf } from './arrivals-codec.ts'
import type { ArrivalRow } from './arrivals-codec.ts'
import { decodeBlock, encodeDeflated, encodeRaw } from './block-codec.ts'
import type { EncodedBlock } from './block-codec.ts'
import type { CommitQueue } from './commit-queue.ts'
import { MAX_BLOCK_SAMPLES } from './compaction.ts'
import type { Compaction } from './compaction.ts'
import type { Connection } from './connection.ts'
import type { SampleBlocksTable, StreamsTable } from './schema.ts'

/** Blocks are read this many at a time, with a turn of the event loop between. */
const BLOCKS_PER_READ = 64

export class SqliteTimeSeries implements TimeSeries {
  readonly #db: Connection['db']
  readonly #raw: SqliteDatabase
  readonly #queue: CommitQueue
  readonly #compaction: Compaction
  readonly #insertBlock: Statement
  readonly #insertLost: Statement
  readonly #nextIndex: Statement<[string], { next_index: number }>
  readonly #advance: Statement
  readonly #advanceFrom: Statement

  constructor({ db, raw }: Connection, queue: CommitQueue, compaction: Compaction) {
    this.#db = db
    this.#raw = raw
    this.#queue = queue
    this.#compaction = compaction
    this.#insertBlock = raw.prepare(
      `insert into sample_blocks (stream_id, first_index, count, dtype, encoding, columns, crc32, arrived_at_us)
       values (?, ?, ?, ?, ?, ?, ?, ?) on conflict do nothing`,
    )
    this.#insertLost = raw.prepare(
      'insert into lost_ranges (stream_id, first_index, count) values (?, ?, ?) on conflict do nothing',
    )
    this.#nextIndex = raw.prepare('select next_index from streams where id = ?')
    this.#advance = raw.prepare('update streams set next_index = ? where id = ?')
    this.#advanceFrom = raw.prepare('update streams set next_index = ? where id = ? and next_index = ?')
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

  async appendSamples(
    stream: string,
    firstIndex: number,
    columns: SampleColumns,
    arrivedAtUs: number | null = null,
  ): Promise<number> {
    const count = columns.values[0].length
    if (count > MAX_BLOCK_SAMPLES) return this.#appendLong(stream, firstIndex, columns)
    const write = (from: number, to: number) => {
      const block = encodeRaw(part(columns, from - firstIndex, to - firstIndex))
      this.#write(stream, from, to, block, arrivedAtUs)
    }
    const nextIndex = await this.#queue.add(() => {
      const end = firstIndex + count
      // As a rule the samples follow on what is stored: then one statement asks and advances.
      if (this.#advanceFrom.run(end, stream, firstIndex).changes === 1) {
        write(firstIndex, end)
        return end
      }
      const next = this.#requireContiguous(stream, firstIndex)
      if (end <= next) return next
      write(next, end)
      this.#advance.run(end, stream)
      return end
    })
    this.#compaction.appended(stream, count)
    return nextIndex
  }

  /** A whole trace: it needs no compaction later. */
  #appendLong(stream: string, firstIndex: number, columns: SampleColumns): Promise<number> {
    const end = firstIndex + columns.values[0].length
    return this.#queue.add(() => {
      const next = this.#requireContiguous(stream, firstIndex)
      for (let from = next; from < end; from += MAX_BLOCK_SAMPLES) {
        const to = Math.min(from + MAX_BLOCK_SAMPLES, end)
        const block = encodeDeflated(part(columns, from - firstIndex, to - firstIndex))
        this.#write(stream, from, to, block, null)
      }
      return this.#advanceTo(stream, next, end)
    })
  }

  #write(stream: string, from: number, to: number, block: EncodedBlock, arrivedAtUs: number | null): void {
    const { dtype, encoding, columns, crc32 } = block
    this.#insertBlock.run(stream, from, to - from, dtype, encoding, columns, crc32, arrivedAtUs)
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

  async compact(stream: string): Promise<void> {
    this.#compaction.forget(stream)
    await this.#compaction.compact(stream)
  }

  async *readSamples(stream: string, fromIndex: number, toIndex: number): AsyncIterable<SampleBlock> {
    const record = await this.stream(stream)
    if (!record) throw new StreamMissingError(`there is no stream ${stream}`)
    // Blocks do not overlap: of those that begin at or before an index only the last can hold it.
    const read = this.#raw.prepare<[string, number, string, number, number], SampleBlocksTable>(
      `select * from sample_blocks where stream_id = ? and first_index < ? and first_index >= coalesce(
         (select max(first_index) from sample_blocks where stream_id = ? and first_index <= ?), 0)
       order by first_index limit ?`,
    )
    // By the place reached, not by the rows seen: they may be joined while this reads.
    let reachedIndex = fromIndex
    for (;;) {
      const rows = read.all(stream, toIndex, stream, reachedIndex, BLOCKS_PER_READ)
      for (const row of rows) {
        if (row.first_index + row.count <= reachedIndex) continue
        const block = decodeBlock({ ...row, firstIndex: row.first_index }, record.columns.length, stream)
        yield cut(block, reachedIndex, toIndex)
        reachedIndex = row.first_index + row.count
      }
      if (rows.length < BLOCKS_PER_READ) return
      await nextTurn()
    }
  }

  async arrivals(stream: string): Promise<Arrival[]> {
    const read = this.#raw.prepare<[string], ArrivalRow>(
      `select first_index, count, arrived_at_us, arrivals from sample_blocks
       where stream_id = ? order by first_index`,
    )
    return read.all(stream).flatMap(arrivalsOf)
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

function part({ dtype, values }: SampleColumns, from: number, to: number): SampleColumns {
  return { dtype, values: values.map((column) => column.subarray(from, to)) }
}

function cut(block: SampleBlock, fromIndex: number, toIndex: number): SampleBlock {
  const from = Math.max(0, fromIndex - block.firstIndex)
  const to = Math.min(block.count, toIndex - block.firstIndex)
  if (from === 0 && to === block.count) return block
  return { ...part(block, from, to), firstIndex: block.firstIndex + from, count: to - from }
}
