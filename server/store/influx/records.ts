import type { Author } from '../changes.ts'
import type { Connection } from '../sqlite/connection.ts'
import { SqliteRecords } from '../sqlite/records.ts'

/** Records in SQLite; what is deleted there goes from InfluxDB as well, at once or as soon as it answers. */
export class InfluxRecords extends SqliteRecords {
  readonly #deleted: () => Promise<void>

  /** @param deleted resolves when InfluxDB has deleted what was ordered, or cannot now */
  constructor(connection: Connection, deleted: () => Promise<void>) {
    super(connection)
    this.#deleted = deleted
  }

  override async deleteDog(id: string): Promise<boolean> {
    const done = await super.deleteDog(id)
    if (done) await this.#deleted()
    return done
  }

  override async deleteSession(id: string, by?: Author): Promise<boolean> {
    const done = await super.deleteSession(id, by)
    if (done) await this.#deleted()
    return done
  }
}
