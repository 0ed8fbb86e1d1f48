import type { Database as SqliteDatabase, Statement } from 'better-sqlite3'
import { crc32Combine } from '../crc32-combine.ts'
import type { SampleBlock, SampleColumns } from '../time-series.ts'
import { arrivalsOf, encodeArrivals } from './arrivals-codec.ts'
import { decodeBlock, encodeDeflatedInThread, widthOf } from './block-codec.ts'
import type { EncodedBlock } from './block-codec.ts'
import type { CommitQueue } from './commit-queue.ts'
import type { SampleBlocksTable } from './schema.ts'

/** Longest block made, so that reading a part of a trace does not unpack all of it. */
export const MAX_BLOCK_SAMPLES = 4096
/** Blocks from here on are left as they are. */
const COMPACT_FROM_SAMPLES = 1024
/** A stream that has this many samples in shorter blocks is compacted while it goes on. */
const LOOSE_SAMPLES = 2048

type Row = Pick<SampleBlocksTable, 'first_index' | 'count' | 'dtype' | 'encoding'>

/**
 * Joins the short blocks that packets leave into long compressed ones. Packets are stored as they
 * come, which is all that an acknowledgement waits for; this follows later, one stream at a time,
 * deflating off the event loop. Short blocks go and the long one comes in one transaction: at every
 * moment each sample is stored exactly once.
 */
export class Compaction {
  readonly #queue: CommitQueue
  readonly #onError: (error: unknown) => void
  readonly #short: Statement<[string, number], Row>
  readonly #rows: Statement<[string, number, number], SampleBlocksTable>
  readonly #columns: Statement<[string], { columns: string }>
  readonly #delete: Statement<[string, number, number]>
  readonly #insert: Statement
  readonly #loose = new Map<string, number>()
  #turn: Promise<void> = Promise.resolve()
  #closed = false

  /** @param onError told when a stream could not be compacted in the background: it stays as it is */
  constructor(raw: SqliteDatabase, queue: CommitQueue, onError: (error: unknown) => void) {
    this.#queue = queue
    this.#onError = onError
    this.#short = raw.prepare(
      `select first_index, count, dtype, encoding from sample_blocks
       where stream_id = ? and count < ? order by first_index`,
    )
    this.#rows = raw.prepare(
      `select * from sample_blocks where stream_id = ? and first_index >= ? and first_index < ?
       order by first_index`,
    )
    this.#columns = raw.prepare('select columns from streams where id = ?')
    this.#delete = raw.prepare(
      'delete from sample_blocks where stream_id = ? and first_index >= ? and first_index < ?',
    )
    this.#insert = raw.prepare(
      `insert into sample_blocks
         (stream_id, first_index, count, dtype, encoding, columns, crc32, arrived_at_us, arrivals)
       values (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
    )
  }

  /** Samples were stored as a short block. */
  appended(stream: string, count: number): void {
    const loose = (this.#loose.get(stream) ?? 0) + count
    this.#loose.set(stream, loose)
    if (loose < LOOSE_SAMPLES) return
    this.#loose.set(stream, 0)
    this.compact(stream).catch(this.#onError)
  }

  /** Resolves once the stream's short blocks are joined; a stream that is gone has none. */
  compact(stream: string): Promise<void> {
    const done = this.#turn.then(() => this.#compact(stream))
    // One that fails must not hold up the streams after it; whoever asked is told.
    this.#turn = done.catch(() => undefined)
    return done
  }

  /** The stream ended: nothing more is counted for it. */
  forget(stream: string): void {
    this.#loose.delete(stream)
  }

  /** Begins nothing more; what is under way is through when this resolves. */
  async close(): Promise<void> {
    this.#closed = true
    this.#queue.flush()
    await this.#turn
  }

  async #compact(stream: string): Promise<void> {
    for (const run of runsOf(this.#short.all(stream, COMPACT_FROM_SAMPLES))) {
      if (this.#closed) return
      await this.#join(stream, run)
    }
  }

  async #join(stream: string, run: readonly Row[]): Promise<void> {
    const from = run[0].first_index
    const to = endOf(run[run.length - 1])
    const columnCount = this.#columns.get(stream)?.columns.split(',').length ?? 0
    const rows = this.#rows.all(stream, from, to)
    // Deleted or moved meanwhile.
    if (rows.length !== run.length || rows.some((row) => isRemote(row) !== isRemote(run[0]))) return
    const block = isRemote(run[0])
      ? joinedRemote(rows, columnCount)
      : await encodeDeflatedInThread(
          joined(
            rows.map((row) => decodeBlock({ ...row, firstIndex: row.first_index }, columnCount, stream)),
          ),
        )
    const { dtype, encoding, crc32 } = block
    const known = rows.flatMap(arrivalsOf)
    const arrivals = encodeArrivals(from, known)
    const newestUs = known.at(-1)?.arrivedAtUs ?? null
    const written = this.#queue.add(() => {
      const now = this.#rows.all(stream, from, to)
      // Deleted meanwhile, or moved to InfluxDB.
      if (now.length !== rows.length || now.some((row, i) => row.encoding !== rows[i].encoding)) return
      this.#delete.run(stream, from, to)
      const { columns } = block
      this.#insert.run(stream, from, to - from, dtype, encoding, columns, crc32, newestUs, arrivals)
    })
    if (this.#closed) this.#queue.flush()
    await written
  }
}

/** Runs of two and more short blocks that follow on one another, each no longer than one long block. */
function runsOf(rows: readonly Row[]): Row[][] {
  const runs: Row[][] = []
  let run: Row[] = []
  for (const row of rows) {
    const last = run.at(-1)
    const follows =
      last !== undefined &&
      endOf(last) === row.first_index &&
      last.dtype === row.dtype &&
      isRemote(last) === isRemote(row) &&
      endOf(row) - run[0].first_index <= MAX_BLOCK_SAMPLES
    if (!follows) runs.push((run = []))
    run.push(row)
  }
  return runs.filter(({ length }) => length > 1)
}

function isRemote({ encoding }: Pick<Row, 'encoding'>): boolean {
  return encoding === 'influx'
}

/** What InfluxDB holds stays as it is there: only what is known of it is joined. */
function joinedRemote(rows: readonly SampleBlocksTable[], columnCount: number): EncodedBlock {
  const { dtype } = rows[0]
  const sampleBytes = widthOf(dtype) * columnCount
  const crc32 = rows.reduce((sum, row) => crc32Combine(sum, row.crc32, row.count * sampleBytes), 0)
  return { dtype, encoding: 'influx', columns: Buffer.alloc(0), crc32 }
}

function endOf({ first_index, count }: Pick<Row, 'first_index' | 'count'>): number {
  return first_index + count
}

function joined(blocks: readonly SampleBlock[]): SampleColumns {
  const { dtype } = blocks[0]
  const count = blocks.reduce((sum, block) => sum + block.count, 0)
  const values = blocks[0].values.map((_, c) => {
    const column = dtype === 'float32' ? new Float32Array(count) : new Float64Array(count)
    let at = 0
    for (const block of blocks) {
      column.set(block.values[c], at)
      at += block.count
    }
    return column
  })
  return { dtype, values }
}
