import { setImmediate as nextTurn } from 'node:timers/promises'
import type { Database as SqliteDatabase, Statement } from 'better-sqlite3'
import type { Connection } from '../sqlite/connection.ts'
import type { SampleWriter } from '../sqlite/sample-writer.ts'
import type { SampleBlocksTable } from '../sqlite/schema.ts'
import { cutBlock, SqliteTimeSeries } from '../sqlite/time-series.ts'
import { joinedRanges } from '../index-ranges.ts'
import { CorruptBlockError, SeriesUnavailableError, StreamMissingError } from '../time-series.ts'
import type { IndexRange, SampleBlock, StreamRecord } from '../time-series.ts'
import { InfluxError } from './influx-error.ts'
import type { Places } from './places.ts'
import type { RemoteSamples } from './remote-samples.ts'

/** Samples asked of InfluxDB at once, with a turn of the event loop between. */
const SAMPLES_PER_READ = 10_000
const BLOCKS_PER_READ = 512

type Row = Pick<SampleBlocksTable, 'first_index' | 'count' | 'dtype' | 'encoding' | 'crc32'>

/** Streams and their state in SQLite; samples there and in InfluxDB, each block in one of them, read as one. */
export class InfluxTimeSeries extends SqliteTimeSeries {
  readonly #places: Places
  readonly #remote: RemoteSamples
  readonly #unreachable: (error: InfluxError) => void
  readonly #rows: Statement<[string, number, string, number, number], Row>
  readonly #embedded: Statement<[string, number], SampleBlocksTable>
  /** By stream, what reading InfluxDB found not to be as it was stored. */
  readonly #damagedThere = new Map<string, Map<number, IndexRange>>()

  /** @param unreachable told when InfluxDB did not answer: somebody waits for it to be back */
  constructor(
    connection: Connection,
    writer: SampleWriter,
    places: Places,
    remote: RemoteSamples,
    unreachable: (error: InfluxError) => void,
  ) {
    super(connection, writer)
    this.#unreachable = unreachable
    this.#places = places
    this.#remote = remote
    const raw: SqliteDatabase = connection.raw
    // Blocks do not overlap: of those that begin at or before an index only the last can hold it.
    this.#rows = raw.prepare(
      `select first_index, count, dtype, encoding, crc32 from sample_blocks
       where stream_id = ? and first_index < ? and first_index >= coalesce(
         (select max(first_index) from sample_blocks where stream_id = ? and first_index <= ?), 0)
       order by first_index limit ?`,
    )
    this.#embedded = raw.prepare('select * from sample_blocks where stream_id = ? and first_index = ?')
  }

  override async *readSamples(
    stream: string,
    fromIndex: number,
    toIndex: number,
    leaveOut?: (damage: CorruptBlockError) => void,
  ): AsyncIterable<SampleBlock> {
    const record = await this.stream(stream)
    if (!record) throw new StreamMissingError(`there is no stream ${stream}`)
    // By the place reached, not by the rows seen: they may be joined or moved while this reads.
    let reachedIndex = fromIndex
    for (;;) {
      const rows = this.#rows
        .all(stream, toIndex, stream, reachedIndex, BLOCKS_PER_READ)
        .filter((row) => row.first_index + row.count > reachedIndex)
      if (rows.length === 0) return
      let leftOutTo = reachedIndex
      const skip =
        leaveOut &&
        ((damage: CorruptBlockError) => {
          leftOutTo = Math.max(leftOutTo, damage.range.firstIndex + damage.range.count)
          leaveOut(damage)
        })
      for (const block of await this.#blocks(record, rows, skip)) {
        yield cutBlock(block, reachedIndex, toIndex)
        reachedIndex = block.firstIndex + block.count
      }
      reachedIndex = Math.max(reachedIndex, leftOutTo)
      await nextTurn()
    }
  }

  /** The first of the rows, from where they lie: none when they have changed meanwhile. */
  async #blocks(
    record: StreamRecord,
    rows: readonly Row[],
    leaveOut?: (damage: CorruptBlockError) => void,
  ): Promise<SampleBlock[]> {
    const [first] = rows
    if (first.encoding !== 'influx') {
      const row = this.#embedded.get(record.id, first.first_index)
      if (!row || row.encoding === 'influx') return []
      const block = this.decoded(row, record.columns.length, leaveOut)
      return block ? [block] : []
    }
    const place = this.#places.of(record.id)
    if (!place) return this.#gone(record)
    const found = (damage: CorruptBlockError) => {
      this.#noteDamage(damage)
      leaveOut?.(damage)
    }
    try {
      const from = { id: record.id, columns: record.columns, place }
      return await this.#remote.read(from, firstRemote(rows), leaveOut && found)
    } catch (error) {
      if (error instanceof InfluxError) {
        this.#unreachable(error)
        throw new SeriesUnavailableError(`The samples cannot be read: ${error.message}`, { cause: error })
      }
      // Deleted while it was read: InfluxDB may be rid of it already.
      if (!(await this.stream(record.id))) return this.#gone(record)
      if (error instanceof CorruptBlockError) this.#noteDamage(error)
      throw error
    }
  }

  override async damaged(stream: string): Promise<IndexRange[]> {
    const there = this.#damagedThere.get(stream)?.values() ?? []
    return joinedRanges([...(await super.damaged(stream)), ...there])
  }

  #noteDamage(damage: CorruptBlockError): void {
    const { stream, range } = damage
    const known = this.#damagedThere.get(stream) ?? new Map<number, IndexRange>()
    this.#damagedThere.set(stream, known.set(range.firstIndex, range))
    this.tellDamaged(damage)
  }

  #gone({ id }: StreamRecord): never {
    throw new StreamMissingError(`stream ${id} was deleted`)
  }
}

/** Blocks in InfluxDB that follow on one another, as many as one answer should hold. */
function firstRemote(rows: readonly Row[]) {
  const run: { firstIndex: number; count: number; dtype: Row['dtype']; crc32: number }[] = []
  let samples = 0
  for (const { first_index: firstIndex, count, dtype, encoding, crc32 } of rows) {
    const last = run.at(-1)
    const follows = !last || last.firstIndex + last.count === firstIndex
    if (encoding !== 'influx' || !follows || (run.length > 0 && samples + count > SAMPLES_PER_READ)) break
    run.push({ firstIndex, count, dtype, crc32 })
    samples += count
  }
  return run
}
