import type { TrendMarker } from '#protocol/trends'
import type { SetUp } from '#protocol/resources'
import type { MeasureName } from '#signal/trend/measures'
import type { TrendFigures } from '#signal/trend/trend-point'
import type { TrendRow, TrendSource } from '../trend-source.ts'
import type { Connection } from './connection.ts'
import type { SessionsTable } from './schema.ts'
import { setUpOf } from './session-rows.ts'

const CHECK_IN_WORDS = { tired: 'Tired', sore: 'Sore' } as const

const NO_FIGURES: TrendFigures = {
  comparableSwayMs2: null,
  comparablePathRate: null,
  comparableJerk: null,
  comparableTremorMs2: null,
  comparableRatio: null,
  comparableWeak: null,
  comparableBasis: null,
  lookAlike: null,
  bestHoldS: null,
  handsOffHoldS: null,
  supportShare: null,
}

/** Where the figure of each measure is kept. */
const COLUMNS = {
  swayRms: { field: 'comparableSwayMs2', column: 'comparable_sway_ms2' },
  pathRate: { field: 'comparablePathRate', column: 'comparable_path_rate' },
  jerk: { field: 'comparableJerk', column: 'comparable_jerk' },
  steadinessRatio: { field: 'comparableRatio', column: 'comparable_ratio' },
  tremorRms: { field: 'comparableTremorMs2', column: 'comparable_tremor_ms2' },
  bestHoldS: { field: 'bestHoldS', column: 'best_hold_s' },
  handsOffHoldS: { field: 'handsOffHoldS', column: 'hands_off_hold_s' },
  supportShare: { field: 'supportShare', column: 'support_share' },
} as const satisfies Record<MeasureName, { field: keyof TrendFigures; column: keyof SessionsTable }>

type SetUpValues = [
  SessionsTable['exercise'],
  SessionsTable['surface'],
  SessionsTable['fore_to_hind_cm'],
  SessionsTable['left_to_right_cm'],
  SessionsTable['height_cm'],
  SessionsTable['firmness'],
  SessionsTable['unstable'],
]
/** As the statement names them. */
type Columns = [
  SessionsTable['id'],
  SessionsTable['started_at_us'],
  SessionsTable['state'],
  SessionsTable['sensor'],
  number | null,
  SessionsTable['comparable_sway_ms2'],
  SessionsTable['comparable_weak'],
  SessionsTable['comparable_basis'],
  SessionsTable['look_alike'],
  SessionsTable['excluded_reason'],
  number | null,
  ...SetUpValues,
]

export class SqliteTrendSource implements TrendSource {
  readonly #db: Connection['db']
  readonly #raw: Connection['raw']

  constructor({ db, raw }: Connection) {
    this.#db = db
    this.#raw = raw
  }

  async rows(dogId: string, measure: MeasureName): Promise<TrendRow[]> {
    const { field, column } = COLUMNS[measure]
    // One walk along sessions_of_dog, as plain arrays: objects of named columns would cost four times as much.
    const statement = this.#raw
      .prepare(
        `select sessions.id, sessions.started_at_us, state, sensor, ${column}, comparable_sway_ms2,
          comparable_weak, comparable_basis, look_alike, excluded_reason, resolution_ms2,
          exercise, surface, fore_to_hind_cm, left_to_right_cm, height_cm, firmness, unstable
        from sessions left join streams on streams.session_id = sessions.id
        where dog_id = ? order by ordered_at_us, sessions.id`,
      )
      .raw()
    // Thousands of sessions share a few set-ups.
    const setUps = new Map<string, SetUp | null>()
    return (statement.all(dogId) as Columns[]).map((columns) => {
      const [id, startedAtUs, state, sensor, value, swayMs2, weak, basis, lookAlike, excludedReason] = columns
      const [exercise, surface, fore_to_hind_cm, left_to_right_cm, height_cm, firmness, unstable] =
        columns.slice(11) as SetUpValues
      const text = JSON.stringify([
        exercise,
        surface,
        fore_to_hind_cm,
        left_to_right_cm,
        height_cm,
        firmness,
        unstable,
      ])
      let setUp = setUps.get(text)
      if (setUp === undefined) {
        const row = {
          exercise,
          surface,
          fore_to_hind_cm,
          left_to_right_cm,
          height_cm,
          firmness,
          unstable,
        }
        setUps.set(text, (setUp = setUpOf(row)))
      }
      return {
        id,
        startedAtUs,
        state,
        sensor,
        setUp,
        figures: {
          ...NO_FIGURES,
          comparableSwayMs2: swayMs2,
          [field]: value,
          comparableWeak: weak === null ? null : weak === 1,
          comparableBasis: basis,
          lookAlike: lookAlike === null ? null : lookAlike === 1,
        },
        excludedReason,
        resolutionMs2: columns[10],
      }
    })
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
