import type { NewTrendSettings, TrendSettings } from '#protocol/trends'
import type { Author, Changed, Precondition } from '../changes.ts'
import { FIRST_TREND_SETTINGS } from '../trend-settings.ts'
import type { TrendSettingsRecords } from '../trend-settings.ts'
import { auditQuery, differences } from './audit.ts'
import type { Connection } from './connection.ts'

/** What was said already changes nothing and keeps its version. */
export class SqliteTrendSettings implements TrendSettingsRecords {
  readonly #connection: Connection

  constructor(connection: Connection) {
    this.#connection = connection
  }

  async settings(dogId: string): Promise<TrendSettings | null> {
    const row = await this.#query(dogId).executeTakeFirst()
    return row ? settingsOf(row) : null
  }

  async set(
    dogId: string,
    settings: NewTrendSettings,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<TrendSettings>> {
    const { db, together } = this.#connection
    return together(({ rows, run }) => {
      const [row] = rows(this.#query(dogId).compile())
      if (!row) return { kind: 'missing' }
      const before = settingsOf(row)
      if (!precondition(before.version)) return { kind: 'other version', version: before.version }
      const detail = differences<TrendSettings>(before, settings)
      if (!detail) return { kind: 'changed', record: before }
      const version = before.version + 1
      const stored = { settings: JSON.stringify(settings), version }
      run(
        db
          .insertInto('trend_settings')
          .values({ dog_id: dogId, ...stored })
          .onConflict((conflict) => conflict.column('dog_id').doUpdateSet(stored))
          .compile(),
      )
      run(auditQuery(db, by, { dogId, action: 'trend-settings.changed', detail }))
      return { kind: 'changed', record: { ...settings, version } }
    })
  }

  #query(dogId: string) {
    return this.#connection.db
      .selectFrom('dogs')
      .leftJoin('trend_settings', 'trend_settings.dog_id', 'dogs.id')
      .select(['settings', 'trend_settings.version'])
      .where('dogs.id', '=', dogId)
  }
}

function settingsOf({
  settings,
  version,
}: {
  settings: string | null
  version: number | null
}): TrendSettings {
  if (settings === null || version === null) return FIRST_TREND_SETTINGS
  return { ...(JSON.parse(settings) as NewTrendSettings), version }
}
