import type { NewTrendSettings, TrendMarker } from '#protocol/trends'
import type { TrendRow, TrendSource } from '../trend-source.ts'
import type { Connection } from './connection.ts'
import { setUpOf } from './session-rows.ts'

const CHECK_IN_WORDS = { tired: 'Tired', sore: 'Sore' } as const

export class SqliteTrendSource implements TrendSource {
  readonly #db: Connection['db']

  constructor({ db }: Connection) {
    this.#db = db
  }

  async rows(dogId: string): Promise<TrendRow[]> {
    // One walk along sessions_of_dog; the figures are columns, so that no report is read.
    const rows = await this.#db
      .selectFrom('sessions')
      .leftJoin('streams', 'streams.session_id', 'sessions.id')
      .where('dog_id', '=', dogId)
      .orderBy('ordered_at_us')
      .orderBy('sessions.id')
      .select([
        'sessions.id',
        'sessions.started_at_us',
        'created_at',
        'state',
        'sensor',
        'exercise',
        'surface',
        'fore_to_hind_cm',
        'left_to_right_cm',
        'height_cm',
        'firmness',
        'unstable',
        'comparable_sway_ms2',
        'comparable_path_rate',
        'comparable_jerk',
        'comparable_tremor_ms2',
        'comparable_ratio',
        'comparable_weak',
        'comparable_basis',
        'look_alike',
        'best_hold_s',
        'hands_off_hold_s',
        'support_share',
        'excluded_reason',
        'resolution_ms2',
      ])
      .execute()
    return rows.map((row) => ({
      id: row.id,
      startedAtUs: row.started_at_us,
      createdAt: row.created_at,
      state: row.state,
      sensor: row.sensor,
      setUp: setUpOf(row),
      figures: {
        comparableSwayMs2: row.comparable_sway_ms2,
        comparablePathRate: row.comparable_path_rate,
        comparableJerk: row.comparable_jerk,
        comparableTremorMs2: row.comparable_tremor_ms2,
        comparableRatio: row.comparable_ratio,
        comparableWeak: row.comparable_weak === null ? null : row.comparable_weak === 1,
        comparableBasis: row.comparable_basis,
        lookAlike: row.look_alike === null ? null : row.look_alike === 1,
        bestHoldS: row.best_hold_s,
        handsOffHoldS: row.hands_off_hold_s,
        supportShare: row.support_share,
      },
      excludedReason: row.excluded_reason,
      resolutionMs2: row.resolution_ms2,
    }))
  }

  async settings(dogId: string): Promise<NewTrendSettings | null> {
    const query = this.#db.selectFrom('trend_settings').select('settings').where('dog_id', '=', dogId)
    const row = await query.executeTakeFirst()
    return row ? (JSON.parse(row.settings) as NewTrendSettings) : null
  }

  async markers(dogId: string): Promise<TrendMarker[]> {
    const [plans, diary, mornings] = await Promise.all([
      this.#plans(dogId),
      this.#diary(dogId),
      this.#mornings(dogId),
    ])
    return [...plans, ...diary, ...mornings].sort((a, b) => (a.fromDate < b.fromDate ? -1 : 1))
  }

  async #plans(dogId: string): Promise<TrendMarker[]> {
    const rows = await this.#db
      .selectFrom('plans')
      .where('dog_id', '=', dogId)
      .orderBy('version')
      .select(({ ref }) => [
        'version',
        ref('plan', '->>')
          .key('validFrom' as never)
          .$castTo<string>()
          .as('valid_from'),
        ref('plan', '->>')
          .key('setBy' as never)
          .$castTo<string>()
          .as('set_by'),
      ])
      .execute()
    return rows.map(({ version, valid_from, set_by }) => ({
      kind: 'plan',
      fromDate: valid_from,
      untilDate: null,
      words: `Plan version ${version}, set by ${set_by}`,
    }))
  }

  async #diary(dogId: string): Promise<TrendMarker[]> {
    const rows = await this.#db
      .selectFrom('diary_entries')
      .where('dog_id', '=', dogId)
      .where('kind', '!=', 'note')
      .orderBy('from_date')
      .orderBy('id')
      .select(['kind', 'from_date', 'until_date', 'title', 'dose'])
      .execute()
    return rows.map(({ kind, from_date, until_date, title, dose }) => ({
      kind: kind as 'medication' | 'event',
      fromDate: from_date,
      untilDate: until_date,
      words: dose === null ? title : `${title}, ${dose}`,
    }))
  }

  async #mornings(dogId: string): Promise<TrendMarker[]> {
    const rows = await this.#db
      .selectFrom('sessions')
      .innerJoin('check_ins', 'check_ins.session_id', 'sessions.id')
      .where('dog_id', '=', dogId)
      .where('answer', 'in', ['tired', 'sore'])
      .where('started_at_us', 'is not', null)
      .orderBy('ordered_at_us')
      .select(['sessions.id', 'started_at_us', 'answer', 'check_ins.note'])
      .execute()
    return rows.map(({ id, started_at_us, answer, note }) => ({
      kind: 'check-in',
      fromDate: new Date(started_at_us! / 1000).toISOString().slice(0, 10),
      untilDate: null,
      words:
        `${CHECK_IN_WORDS[answer as keyof typeof CHECK_IN_WORDS]} on the morning after the session` +
        (note ? `: ${note}` : ''),
      sessionId: id,
    }))
  }
}
