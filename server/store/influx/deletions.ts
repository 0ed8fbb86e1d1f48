import type { Database as SqliteDatabase, Statement } from 'better-sqlite3'
import type { InfluxServer } from './influx-server.ts'
import { MEASUREMENT, tagsOf } from './place.ts'

interface DeletionRow {
  readonly id: number
  readonly dog_id: string
  readonly slot: number
  readonly from_us: number
  readonly to_us: number
}

/**
 * What InfluxDB has still to delete. Ordered by a trigger in the transaction that removes a stream, so neither a crash
 * nor an outage forgets it, and nothing is written to a range before it is empty.
 */
export class Deletions {
  readonly #server: InfluxServer
  readonly #next: Statement<[], DeletionRow>
  readonly #done: Statement<[number]>
  readonly #count: Statement<[], number>

  constructor(raw: SqliteDatabase, server: InfluxServer) {
    this.#server = server
    this.#next = raw.prepare('select * from series_deletions order by id limit 1')
    this.#done = raw.prepare('delete from series_deletions where id = ?')
    this.#count = raw.prepare<[], number>('select count(*) from series_deletions').pluck()
    // A batch may have arrived that was never confirmed, and what it held may never be sent again.
    raw
      .prepare(
        `insert into series_deletions (dog_id, slot, from_us, to_us)
         select dog_id, slot, base_us + cast(next_index * period_us as integer), end_us
         from series_places join streams on streams.id = stream_id
         where complete = 0 and base_us + cast(next_index * period_us as integer) < end_us`,
      )
      .run()
  }

  get pending(): number {
    return this.#count.get() ?? 0
  }

  /** Nothing else may write to InfluxDB meanwhile. @throws {InfluxError} those not done yet stay ordered */
  async carryOut(): Promise<void> {
    for (let row = this.#next.get(); row; row = this.#next.get()) {
      const range = { fromUs: row.from_us, toUs: row.to_us }
      const tags = tagsOf({ dogId: row.dog_id, slot: row.slot })
      await this.#server.delete({ measurement: MEASUREMENT, tags, ...range })
      this.#done.run(row.id)
    }
  }
}
