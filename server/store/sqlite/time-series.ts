import { setImmediate as nextTurn } from 'node:timers/promises'
import type { Database as SqliteDatabase } from 'better-sqlite3'
import { joinedRanges } from '../index-ranges.ts'
import type {
  Arrival,
  IndexRange,
  SampleBlock,
  SampleColumns,
  StreamRecord,
  StreamState,
  TimeSeries,
} from '../time-series.ts'
import { CorruptBlockError, StreamMissingError } from '../time-series.ts'
import { arrivalsOf } from './arrivals-codec.ts'
import type { ArrivalRow } from './arrivals-codec.ts'
import { corrupt, decodeBlock, isAsStored } from './block-codec.ts'
import type { Connection } from './connection.ts'
import type { SampleWriter } from './sample-writer.ts'
import type { SampleBlocksTable, StreamsTable } from './schema.ts'

/** Blocks are read this many at a time, with a turn of the event loop between. */
const BLOCKS_PER_READ = 8

export class SqliteTimeSeries implements TimeSeries {
  readonly #damageListeners: ((damage: CorruptBlockError) => void)[] = []
  readonly #db: Connection['db']
  readonly #raw: SqliteDatabase
  readonly #writer: SampleWriter

  constructor({ db, raw }: Connection, writer: SampleWriter) {
    this.#db = db
    this.#raw = raw
    this.#writer = writer
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

  appendSamples(
    stream: string,
    firstIndex: number,
    columns: SampleColumns,
    arrivedAtUs: number | null = null,
  ): Promise<number> {
    return this.#writer.appendSamples(stream, firstIndex, columns, arrivedAtUs)
  }

  appendLost(stream: string, firstIndex: number, count: number): Promise<number> {
    return this.#writer.appendLost(stream, firstIndex, count)
  }

  async complete(stream: string): Promise<void> {
    await this.#db.updateTable('streams').set({ complete: 1 }).where('id', '=', stream).execute()
  }

  compact(stream: string): Promise<void> {
    return this.#writer.compact(stream)
  }

  /** Tells every damaged block that reading meets, each time. */
  onDamaged(listener: (damage: CorruptBlockError) => void): void {
    this.#damageListeners.push(listener)
  }

  protected tellDamaged(damage: CorruptBlockError): void {
    for (const listener of this.#damageListeners) listener(damage)
  }

  async *readSamples(
    stream: string,
    fromIndex: number,
    toIndex: number,
    leaveOut?: (damage: CorruptBlockError) => void,
  ): AsyncIterable<SampleBlock> {
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
        const block = this.decoded(row, record.columns.length, leaveOut)
        if (block) yield cutBlock(block, reachedIndex, toIndex)
        reachedIndex = row.first_index + row.count
      }
      if (rows.length < BLOCKS_PER_READ) return
      await nextTurn()
    }
  }

  /** Null for a damaged block that may be left out. */
  protected decoded(
    row: SampleBlocksTable,
    columnCount: number,
    leaveOut?: (damage: CorruptBlockError) => void,
  ): SampleBlock | null {
    try {
      return decodeBlock({ ...row, firstIndex: row.first_index }, columnCount, row.stream_id)
    } catch (error) {
      if (!(error instanceof CorruptBlockError)) throw error
      this.tellDamaged(error)
      if (!leaveOut) throw error
      leaveOut(error)
      return null
    }
  }

  async damaged(stream: string): Promise<IndexRange[]> {
    const found = this.#missing(stream)
    const read = this.#raw.prepare<[string, number, number], SampleBlocksTable>(
      `select * from sample_blocks where stream_id = ? and first_index >= ? and encoding <> 'influx'
       order by first_index limit ?`,
    )
    for (let fromIndex = 0; ;) {
      const rows = read.all(stream, fromIndex, BLOCKS_PER_READ)
      for (const row of rows) {
        const range = { firstIndex: row.first_index, count: row.count }
        fromIndex = row.first_index + row.count
        if (isAsStored(row)) continue
        this.tellDamaged(corrupt(stream, range.firstIndex, range.count))
        found.push(range)
      }
      if (rows.length < BLOCKS_PER_READ) return joinedRanges(found)
      await nextTurn()
    }
  }

  /** What is acknowledged and neither stored nor declared lost. */
  #missing(stream: string): IndexRange[] {
    const end = this.#raw.prepare<[string], number>('select next_index from streams where id = ?').pluck()
    // Asked before the blocks, which may grow meanwhile.
    const endIndex = end.get(stream) ?? 0
    const pieces = this.#raw
      .prepare<[string, string], IndexRange>(
        `select first_index as firstIndex, count from sample_blocks where stream_id = ?
         union all select first_index, count from lost_ranges where stream_id = ? order by 1`,
      )
      .all(stream, stream)
    const missing: IndexRange[] = []
    let next = 0
    for (const { firstIndex, count } of [...pieces, { firstIndex: endIndex, count: 0 }]) {
      if (firstIndex > next) missing.push({ firstIndex: next, count: firstIndex - next })
      next = Math.max(next, firstIndex + count)
    }
    for (const range of missing) this.tellDamaged(gone(stream, range))
    return missing
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

function gone(stream: string, range: IndexRange): CorruptBlockError {
  const { firstIndex, count } = range
  const samples = `samples ${firstIndex} to ${firstIndex + count - 1} of stream ${stream}`
  return new CorruptBlockError(stream, range, `${samples} are gone; restore them from a backup`)
}

/** A block without what lies outside [fromIndex, toIndex). */
export function cutBlock(block: SampleBlock, fromIndex: number, toIndex: number): SampleBlock {
  const from = Math.max(0, fromIndex - block.firstIndex)
  const to = Math.min(block.count, toIndex - block.firstIndex)
  if (from === 0 && to === block.count) return block
  const values = block.values.map((column) => column.subarray(from, to))
  return { dtype: block.dtype, values, firstIndex: block.firstIndex + from, count: to - from }
}
