import type { Database as SqliteDatabase, Statement } from 'better-sqlite3'
import type { SampleBlocksTable } from '../sqlite/schema.ts'

/** About one request to InfluxDB. */
const SAMPLES_AT_ONCE = 5000
const BLOCKS_AT_ONCE = 600

type Size = Pick<SampleBlocksTable, 'first_index' | 'count'>

/** Found by an index of their own, so that looking costs nothing when none wait. */
const INDEX = `sample_blocks (stream_id, first_index) where encoding <> 'influx'`

/** Blocks in the embedded store that belong into InfluxDB. */
export class WaitingBlocks {
  readonly #stream: Statement<[], string>
  readonly #sizes: Statement<[string, number], Size>
  readonly #rows: Statement<[string, number, number], SampleBlocksTable>
  readonly #columns: Statement<[string], { columns: string }>
  readonly #count: Statement<[], number>
  readonly #countRefused: Statement<[], number>
  readonly #isWaiting: Statement<[string], number>
  readonly #isRefused: Statement<[string], number>
  readonly #refuse: Statement<[string, string, string]>
  readonly #reasons: Statement<[], string>

  constructor(raw: SqliteDatabase) {
    raw.exec(`create index if not exists sample_blocks_waiting on ${INDEX}`)
    // What was refused is offered once more after every start.
    raw.exec('delete from series_refusals')
    const waiting = `encoding <> 'influx' and stream_id not in (select stream_id from series_refusals)`
    this.#stream = raw
      .prepare<[], string>(`select stream_id from sample_blocks where ${waiting} order by stream_id limit 1`)
      .pluck()
    this.#sizes = raw.prepare(
      `select first_index, count from sample_blocks where stream_id = ? and encoding <> 'influx'
       order by first_index limit ?`,
    )
    this.#rows = raw.prepare(
      `select * from sample_blocks where stream_id = ? and first_index >= ? and first_index <= ? and encoding <> 'influx'
       order by first_index`,
    )
    this.#columns = raw.prepare('select columns from streams where id = ?')
    this.#count = raw.prepare<[], number>(`select count(*) from sample_blocks where ${waiting}`).pluck()
    this.#countRefused = raw.prepare<[], number>('select count(*) from series_refusals').pluck()
    this.#isWaiting = raw
      .prepare<[string], number>(
        `select exists (select 1 from sample_blocks where stream_id = ? and encoding <> 'influx')`,
      )
      .pluck()
    this.#isRefused = raw
      .prepare<[string], number>('select exists (select 1 from series_refusals where stream_id = ?)')
      .pluck()
    // The stream may be gone by now.
    this.#refuse = raw.prepare(
      `insert into series_refusals (stream_id, reason, at) select id, ?, ? from streams where id = ?
       on conflict do nothing`,
    )
    this.#reasons = raw
      .prepare<[], string>('select reason from series_refusals order by at desc limit 1')
      .pluck()
  }

  get count(): number {
    return this.#count.get() ?? 0
  }

  get refused(): { readonly streams: number; readonly reason: string | null } {
    return { streams: this.#countRefused.get() ?? 0, reason: this.#reasons.get() ?? null }
  }

  /** The first of a stream's blocks that wait, in order; null when none does. */
  next(): { stream: string; columns: string[]; rows: SampleBlocksTable[] } | null {
    const stream = this.#stream.get()
    if (stream === undefined) return null
    let samples = 0
    let last = 0
    for (const { first_index, count } of this.#sizes.all(stream, BLOCKS_AT_ONCE)) {
      if (samples > 0 && samples + count > SAMPLES_AT_ONCE) break
      samples += count
      last = first_index
    }
    const columns = this.#columns.get(stream)?.columns.split(',') ?? []
    return { stream, columns, rows: this.#rows.all(stream, 0, last) }
  }

  has(stream: string): boolean {
    return this.#isWaiting.get(stream) === 1
  }

  isRefused(stream: string): boolean {
    return this.#isRefused.get(stream) === 1
  }

  /** Its blocks stay here until the next start. */
  refuse(stream: string, reason: string): void {
    this.#refuse.run(reason, new Date().toISOString(), stream)
  }
}
