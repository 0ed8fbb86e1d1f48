import type { Database as SqliteDatabase, Statement } from 'better-sqlite3'
import type { SampleColumns } from '../time-series.ts'
import { StreamGapError, StreamMissingError } from '../time-series.ts'
import { encodeDeflated, encodeRaw } from './block-codec.ts'
import type { EncodedBlock } from './block-codec.ts'
import { CommitQueue } from './commit-queue.ts'
import { Compaction, MAX_BLOCK_SAMPLES } from './compaction.ts'

/** Samples that InfluxDB has confirmed: what is stored here is how to know them again. */
export interface RemoteSamplesRow {
  readonly firstIndex: number
  readonly count: number
  readonly dtype: SampleColumns['dtype']
  /** See ../influx/row-checksum.ts. */
  readonly crc32: number
  readonly arrivedAtUs: number | null
}

/** A block that is kept in another way from now on, told by how it was: one that changed meanwhile stays. */
export interface BlockReplacement {
  readonly firstIndex: number
  readonly count: number
  readonly was: Pick<EncodedBlock, 'encoding' | 'crc32'>
  readonly now: Pick<EncodedBlock, 'encoding' | 'crc32' | 'columns'>
}

/** The writing half of the time series; promises resolve once the change is durable. */
export interface SampleWriter {
  appendSamples(
    stream: string,
    firstIndex: number,
    columns: SampleColumns,
    arrivedAtUs: number | null,
  ): Promise<number>
  appendLost(stream: string, firstIndex: number, count: number): Promise<number>
  /** The same for samples that InfluxDB holds. */
  appendRemote(stream: string, row: RemoteSamplesRow): Promise<number>
  /** All in one transaction; gives how many blocks were as told. */
  replaceBlocks(stream: string, replacements: readonly BlockReplacement[]): Promise<number>
  compact(stream: string): Promise<void>
  /** What was begun is durable when this resolves. */
  close(): Promise<void>
}

/** Errors that appends throw before they have changed anything. */
const isRefusal = (error: unknown) => error instanceof StreamGapError || error instanceof StreamMissingError

/** Writes samples on a connection of this thread. */
export class DirectSampleWriter implements SampleWriter {
  readonly #queue: CommitQueue
  readonly #compaction: Compaction
  readonly #insertBlock: Statement
  readonly #insertLost: Statement
  readonly #replaceBlock: Statement
  readonly #nextIndex: Statement<[string], { next_index: number }>
  readonly #advance: Statement
  readonly #advanceFrom: Statement

  /** @param onProblem told what went wrong where nobody waits for it */
  constructor(raw: SqliteDatabase, commitMs: number, onProblem: (error: unknown) => void) {
    this.#queue = new CommitQueue(raw, commitMs, isRefusal)
    this.#compaction = new Compaction(raw, this.#queue, onProblem)
    this.#insertBlock = raw.prepare(
      `insert into sample_blocks (stream_id, first_index, count, dtype, encoding, columns, crc32, arrived_at_us)
       values (?, ?, ?, ?, ?, ?, ?, ?) on conflict do nothing`,
    )
    this.#insertLost = raw.prepare(
      'insert into lost_ranges (stream_id, first_index, count) values (?, ?, ?) on conflict do nothing',
    )
    this.#replaceBlock = raw.prepare(
      `update sample_blocks set encoding = ?, columns = ?, crc32 = ?
       where stream_id = ? and first_index = ? and count = ? and encoding = ? and crc32 = ?`,
    )
    this.#nextIndex = raw.prepare('select next_index from streams where id = ?')
    this.#advance = raw.prepare('update streams set next_index = ? where id = ?')
    this.#advanceFrom = raw.prepare('update streams set next_index = ? where id = ? and next_index = ?')
  }

  async appendSamples(
    stream: string,
    firstIndex: number,
    columns: SampleColumns,
    arrivedAtUs: number | null,
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

  appendLost(stream: string, firstIndex: number, count: number): Promise<number> {
    return this.#queue.add(() => {
      const next = this.#requireContiguous(stream, firstIndex)
      const from = Math.max(next, firstIndex)
      if (from < firstIndex + count) this.#insertLost.run(stream, from, firstIndex + count - from)
      return this.#advanceTo(stream, next, firstIndex + count)
    })
  }

  async appendRemote(stream: string, row: RemoteSamplesRow): Promise<number> {
    const { firstIndex, count, dtype, crc32, arrivedAtUs } = row
    const nextIndex = await this.#queue.add(() => {
      const next = this.#requireContiguous(stream, firstIndex)
      // The checksum is that of all of it: a part could not be told from it.
      if (firstIndex < next)
        throw new Error(`stream ${stream} has some of the samples from ${firstIndex} already`)
      const block = { dtype, encoding: 'influx' as const, columns: Buffer.alloc(0), crc32 }
      this.#write(stream, firstIndex, firstIndex + count, block, arrivedAtUs)
      return this.#advanceTo(stream, next, firstIndex + count)
    })
    this.#compaction.appended(stream, count)
    return nextIndex
  }

  replaceBlocks(stream: string, replacements: readonly BlockReplacement[]): Promise<number> {
    return this.#queue.add(() =>
      replacements.reduce((replaced, { firstIndex, count, was, now }) => {
        const { encoding, columns, crc32 } = now
        const known = [stream, firstIndex, count, was.encoding, was.crc32]
        return replaced + this.#replaceBlock.run(encoding, columns, crc32, ...known).changes
      }, 0),
    )
  }

  async compact(stream: string): Promise<void> {
    this.#compaction.forget(stream)
    await this.#compaction.compact(stream)
  }

  /** Commits what is waiting now. */
  flush(): void {
    this.#queue.flush()
  }

  async close(): Promise<void> {
    await this.#compaction.close()
    this.#queue.flush()
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

function part({ dtype, values }: SampleColumns, from: number, to: number): SampleColumns {
  return { dtype, values: values.map((column) => column.subarray(from, to)) }
}
