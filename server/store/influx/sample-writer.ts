import type { Database as SqliteDatabase, Statement } from 'better-sqlite3'
import { MAX_BLOCK_SAMPLES } from '../sqlite/compaction.ts'
import type { BlockReplacement, RemoteSamplesRow, SampleWriter } from '../sqlite/sample-writer.ts'
import type { SampleBlock, SampleColumns } from '../time-series.ts'
import type { Availability } from './availability.ts'
import type { CatchUp, CatchUpParts } from './catch-up.ts'
import { InfluxError } from './influx-error.ts'
import { isStorableColumns } from './line-protocol.ts'
import type { RemoteStream } from './remote-samples.ts'
import { rowChecksum } from './row-checksum.ts'

interface Append {
  readonly stream: string
  readonly firstIndex: number
  readonly count: number
  /** Null for lost ones. */
  readonly columns: SampleColumns | null
  readonly arrivedAtUs: number | null
  readonly resolve: (nextIndex: number) => void
  readonly reject: (error: unknown) => void
}

/** The part of an append that goes to InfluxDB at once. */
interface Direct {
  readonly stream: RemoteStream
  readonly block: SampleBlock
}

interface StreamRow {
  readonly next_index: number
  readonly columns: string
}

export interface InfluxWriterParts extends CatchUpParts {
  readonly raw: SqliteDatabase
  readonly intervalMs: number
  readonly availability: Availability
  readonly catchUp: CatchUp
}

/**
 * Appends of all streams go to InfluxDB in one request per interval, the next when the last is through; once it is
 * confirmed, one transaction here says what InfluxDB holds, and whoever appended is told. When InfluxDB does not confirm,
 * the same transaction keeps the samples themselves: what is written again later is the same points.
 *
 * Long appends, whole traces, are kept here first and follow by themselves, so that live streams do not wait for them.
 */
export class InfluxSampleWriter implements SampleWriter {
  readonly #parts: InfluxWriterParts
  readonly #streamRow: Statement<[string], StreamRow>
  #pending: Append[] = []
  #timer: NodeJS.Timeout | null = null
  #flight: Promise<void> | null = null

  constructor(parts: InfluxWriterParts) {
    this.#parts = parts
    this.#streamRow = parts.raw.prepare('select next_index, columns from streams where id = ?')
  }

  appendSamples(
    stream: string,
    firstIndex: number,
    columns: SampleColumns,
    arrivedAtUs: number | null,
  ): Promise<number> {
    return this.#add({ stream, firstIndex, count: columns.values[0].length, columns, arrivedAtUs })
  }

  appendLost(stream: string, firstIndex: number, count: number): Promise<number> {
    return this.#add({ stream, firstIndex, count, columns: null, arrivedAtUs: null })
  }

  appendRemote(stream: string, row: RemoteSamplesRow): Promise<number> {
    return this.#parts.embedded.appendRemote(stream, row)
  }

  replaceBlocks(stream: string, replacements: readonly BlockReplacement[]): Promise<number> {
    return this.#parts.embedded.replaceBlocks(stream, replacements)
  }

  compact(stream: string): Promise<void> {
    return this.#parts.embedded.compact(stream)
  }

  async close(): Promise<void> {
    while (this.#pending.length > 0 || this.#flight) {
      this.#send()
      await this.#flight
    }
    await this.#parts.embedded.close()
  }

  #add(append: Omit<Append, 'resolve' | 'reject'>): Promise<number> {
    return new Promise((resolve, reject) => {
      this.#pending.push({ ...append, resolve, reject })
      this.#schedule()
    })
  }

  #schedule(): void {
    if (this.#flight || this.#pending.length === 0) return
    this.#timer ??= setTimeout(() => this.#send(), this.#parts.intervalMs)
  }

  #send(): void {
    if (this.#timer) clearTimeout(this.#timer)
    this.#timer = null
    if (this.#flight || this.#pending.length === 0) return
    const batch = this.#pending
    this.#pending = []
    this.#flight = this.#store(batch)
      .catch((error: unknown) => {
        for (const { reject } of batch) reject(error)
      })
      .then(() => {
        this.#flight = null
        this.#schedule()
      })
  }

  /** Resolves once every append of the batch is durable somewhere, or refused. */
  async #store(batch: readonly Append[]): Promise<void> {
    const { availability, turns, catchUp } = this.#parts
    const confirmed = availability.isOut
      ? new Map<Append, Direct>()
      : await turns.take(() => this.#sendDirect(batch))
    const outcomes = batch.map((append) => this.#commit(append, confirmed.get(append)))
    const settled = await Promise.allSettled(outcomes)
    for (const [i, { stream, columns, resolve, reject }] of batch.entries()) {
      const outcome = settled[i]
      if (outcome.status === 'rejected') reject(outcome.reason)
      else if (columns && !confirmed.has(batch[i]) && isLong(columns) && !availability.isOut) {
        void catchUp.moved(stream).then(() => resolve(outcome.value))
      } else resolve(outcome.value)
    }
    if (confirmed.size < batch.length && !availability.isOut) catchUp.wake()
  }

  /** What InfluxDB has confirmed. */
  async #sendDirect(batch: readonly Append[]): Promise<ReadonlyMap<Append, Direct>> {
    const { deletions, remote, availability, onProblem } = this.#parts
    try {
      await deletions.carryOut()
      const direct = this.#plan(batch)
      if (direct.size > 0) await remote.write([...direct.values()])
      return direct
    } catch (error) {
      // Catching up finds out whose samples they are.
      if (error instanceof InfluxError && error.failure === 'rejected') return new Map()
      if (!(error instanceof InfluxError)) onProblem(error)
      const known = error instanceof InfluxError
      availability.failed(known ? error : new InfluxError('away', 'Writing to InfluxDB failed; see the log.'))
      return new Map()
    }
  }

  /** What of a batch follows on what is stored, and may go to InfluxDB; the embedded store judges all else. */
  #plan(batch: readonly Append[]): Map<Append, Direct> {
    const direct = new Map<Append, Direct>()
    const streams = new Map<string, { nextIndex: number; readonly columns: string[] } | null>()
    for (const append of batch) {
      const { stream, firstIndex, count, columns } = append
      if (!streams.has(stream)) {
        const row = this.#streamRow.get(stream)
        streams.set(stream, row ? { nextIndex: row.next_index, columns: row.columns.split(',') } : null)
      }
      const known = streams.get(stream)
      const end = firstIndex + count
      if (!known || firstIndex > known.nextIndex || end <= known.nextIndex) continue
      const from = known.nextIndex
      known.nextIndex = end
      if (!columns || isLong(columns)) continue
      const block = blockFrom(columns, from - firstIndex, from)
      const goesTo = this.#streamFor(stream, known.columns, block)
      if (goesTo) direct.set(append, { stream: goesTo, block })
    }
    return direct
  }

  /** Null where InfluxDB cannot or would not take the block. */
  #streamFor(id: string, columns: string[], block: SampleBlock): RemoteStream | null {
    const { waiting, places } = this.#parts
    if (block.values.length !== columns.length || !isStorableColumns(block) || waiting.isRefused(id))
      return null
    const place = places.reserve(id, block.firstIndex + block.count)
    return place === null || typeof place === 'string' ? null : { id, columns, place }
  }

  #commit(
    { stream, firstIndex, count, columns, arrivedAtUs }: Append,
    direct: Direct | undefined,
  ): Promise<number> {
    const { embedded } = this.#parts
    if (!columns) return embedded.appendLost(stream, firstIndex, count)
    if (!direct) return embedded.appendSamples(stream, firstIndex, columns, arrivedAtUs)
    const { block } = direct
    const { dtype } = block
    const row = { firstIndex: block.firstIndex, count: block.count, dtype, arrivedAtUs }
    return embedded.appendRemote(stream, { ...row, crc32: rowChecksum(block) })
  }
}

function isLong({ values }: SampleColumns): boolean {
  return values[0].length > MAX_BLOCK_SAMPLES
}

function blockFrom({ dtype, values }: SampleColumns, skip: number, firstIndex: number): SampleBlock {
  const own = values.map((column) => column.subarray(skip))
  return { dtype, values: own, firstIndex, count: own[0].length }
}
