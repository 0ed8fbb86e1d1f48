import { sql } from 'kysely'
import type { MarkKind } from '#signal/trace/trace'
import type { StoredMark } from '#protocol/messages'
import type {
  Dog,
  HoldDetail,
  NewDog,
  SensorDescription,
  SessionSummary,
  Timeline,
} from '#protocol/resources'
import type { Report } from '#signal/report-types'
import type { AnalysisRecord, NewSessionRecord, Records, SessionChange, SessionPage } from '../records.ts'
import { DuplicateContentError, SessionExistsError } from '../records.ts'
import type { SessionQuery, SessionState } from '../records.ts'
import { analysisQueries } from './analysis-rows.ts'
import type { Connection } from './connection.ts'
import { dogRow, dogsOf } from './dog-rows.ts'
import { SqliteCheckIns, SqlitePlans } from './plans.ts'
import type { MarksTable } from './schema.ts'
import { cursorOf, positionOf, setUpColumns, summaryOf } from './session-rows.ts'
import { SqliteTrendSource } from './trend-source.ts'

export class SqliteRecords implements Records {
  readonly plans: SqlitePlans
  readonly checkIns: SqliteCheckIns
  readonly trends: SqliteTrendSource
  readonly #connection: Connection
  readonly #db: Connection['db']

  constructor(connection: Connection) {
    this.#connection = connection
    this.#db = connection.db
    this.plans = new SqlitePlans(connection)
    this.checkIns = new SqliteCheckIns(connection)
    this.trends = new SqliteTrendSource(connection)
  }

  async addDog(dog: NewDog & { id: string }): Promise<void> {
    await this.#db.insertInto('dogs').values(dogRow(dog)).execute()
  }

  async dog(id: string): Promise<Dog | null> {
    return (await dogsOf(this.#db, id))[0] ?? null
  }

  dogs(): Promise<Dog[]> {
    return dogsOf(this.#db)
  }

  async deleteDog(id: string): Promise<boolean> {
    return this.#erased(await this.#db.deleteFrom('dogs').where('id', '=', id).executeTakeFirst())
  }

  async deleteSession(id: string): Promise<boolean> {
    return this.#erased(await this.#db.deleteFrom('sessions').where('id', '=', id).executeTakeFirst())
  }

  /** Everything that belongs to a deleted row went with it; the log still holds it until emptied. */
  #erased({ numDeletedRows }: { numDeletedRows: bigint }): boolean {
    if (numDeletedRows > 0n) this.#connection.raw.pragma('wal_checkpoint(TRUNCATE)')
    return numDeletedRows > 0n
  }

  async addSession(session: NewSessionRecord): Promise<void> {
    const createdAt = new Date()
    const row = {
      id: session.id,
      dog_id: session.dogId,
      sensor: session.sensor,
      file_name: session.fileName,
      content_hash: session.contentHash,
      ...setUpColumns(session.setUp),
      mount: session.mount,
      state: session.state,
      started_at_us: session.startedAtUs,
      created_at: createdAt.toISOString(),
      ordered_at_us: session.startedAtUs ?? createdAt.getTime() * 1000,
      plan_version: session.planned?.planVersion ?? null,
      plan_exercise_id: session.planned?.exerciseId ?? null,
      sensor_description: session.sensorDescription ? JSON.stringify(session.sensorDescription) : null,
    }
    const stored = await this.#db
      .insertInto('sessions')
      .values(row)
      .onConflict((conflict) => conflict.doNothing())
      .executeTakeFirst()
    if (stored.numInsertedOrUpdatedRows) return
    const other = session.contentHash && (await this.sessionWithContent(session.dogId, session.contentHash))
    if (other) throw new DuplicateContentError(other)
    throw new SessionExistsError(`there is a session ${session.id}`)
  }

  async session(id: string): Promise<SessionSummary | null> {
    const row = await this.#sessions().where('sessions.id', '=', id).executeTakeFirst()
    return row ? summaryOf(row) : null
  }

  async sensorDescription(sessionId: string): Promise<SensorDescription | null> {
    const query = this.#db.selectFrom('sessions').select('sensor_description').where('id', '=', sessionId)
    const text = (await query.executeTakeFirst())?.sensor_description
    return text ? JSON.parse(text) : null
  }

  async sessions({ dogId, limit, cursor }: SessionQuery): Promise<SessionPage> {
    const position = cursor === undefined ? null : positionOf(cursor)
    const rows = await this.#sessions()
      .$if(dogId !== undefined, (query) => query.where('sessions.dog_id', '=', dogId!))
      .$if(position !== null, (query) =>
        query.where(sql<boolean>`(ordered_at_us, sessions.id) < (${position!.orderedAtUs}, ${position!.id})`),
      )
      .orderBy('ordered_at_us', 'desc')
      .orderBy('sessions.id', 'desc')
      .limit(limit + 1)
      .execute()
    const page = rows.slice(0, limit)
    const last = page.at(-1)
    const next =
      rows.length > limit && last ? cursorOf({ orderedAtUs: last.ordered_at_us, id: last.id }) : null
    return { sessions: page.map(summaryOf), next }
  }

  async sessionIds(dogId: string): Promise<string[]> {
    const rows = await this.#db.selectFrom('sessions').select('id').where('dog_id', '=', dogId).execute()
    return rows.map(({ id }) => id)
  }

  async sessionsInState(state: SessionState): Promise<SessionSummary[]> {
    const rows = await this.#sessions().where('state', '=', state).execute()
    return rows.map(summaryOf)
  }

  /** One row a session: it has at most one stream and one check-in. */
  #sessions() {
    return this.#db
      .selectFrom('sessions')
      .innerJoin('dogs', 'dogs.id', 'sessions.dog_id')
      .leftJoin('check_ins', 'check_ins.session_id', 'sessions.id')
      .leftJoin('streams', 'streams.session_id', 'sessions.id')
      .selectAll('sessions')
      .select([
        'dogs.name as dog_name',
        'streams.resolution_ms2',
        'answer',
        'check_ins.note as answer_note',
        'check_ins.at as answered_at',
        'check_ins.version as answer_version',
        sql<number>`(select coalesce(sum(json_array_length(signs)), 0) from repetition_notes
          where repetition_notes.session_id = sessions.id)`.as('fatigue_signs'),
      ])
  }

  async sessionWithContent(dogId: string, contentHash: string): Promise<string | null> {
    const query = this.#db.selectFrom('sessions').select('id').where('dog_id', '=', dogId)
    const row = await query.where('content_hash', '=', contentHash).executeTakeFirst()
    return row?.id ?? null
  }

  async updateSession(id: string, change: SessionChange): Promise<boolean> {
    const columns = {
      ...(change.setUp !== undefined && setUpColumns(change.setUp)),
      ...(change.mount !== undefined && { mount: change.mount }),
      ...(change.state !== undefined && { state: change.state }),
      ...(change.startedAtUs !== undefined && {
        started_at_us: change.startedAtUs,
        ordered_at_us: change.startedAtUs,
      }),
      ...(change.rateHz !== undefined && { rate_hz: change.rateHz }),
      ...(change.problem !== undefined && { problem: change.problem }),
    }
    const query = this.#db.updateTable('sessions').set(columns).where('id', '=', id)
    return (await query.executeTakeFirst()).numUpdatedRows > 0n
  }

  async addMark(sessionId: string, mark: StoredMark): Promise<boolean> {
    const result = await this.#db
      .insertInto('marks')
      .values(markRow(sessionId, mark))
      .onConflict((conflict) => conflict.columns(['session_id', 'id']).doNothing())
      .executeTakeFirst()
    return (result.numInsertedOrUpdatedRows ?? 0n) > 0n
  }

  async addMarks(sessionId: string, marks: readonly StoredMark[]): Promise<void> {
    const queries = marks.map((mark) =>
      this.#db.insertInto('marks').values(markRow(sessionId, mark)).compile(),
    )
    this.#connection.atomically(queries)
  }

  async marks(sessionId: string): Promise<StoredMark[]> {
    const query = this.#db.selectFrom('marks').selectAll().where('session_id', '=', sessionId)
    const rows = await query.orderBy('at_s').orderBy('seq').execute()
    return rows.map((row) => ({ id: row.id, atS: row.at_s, kind: row.kind as MarkKind, note: row.note }))
  }

  async deleteMark(sessionId: string, markId: string): Promise<boolean> {
    const query = this.#db.deleteFrom('marks').where('session_id', '=', sessionId).where('id', '=', markId)
    return (await query.executeTakeFirst()).numDeletedRows > 0n
  }

  async saveAnalysis(sessionId: string, analysis: AnalysisRecord): Promise<void> {
    this.#connection.atomically(analysisQueries(this.#db, sessionId, analysis))
  }

  async timeScale(sessionId: string): Promise<number> {
    const query = this.#db.selectFrom('sessions').select('time_scale').where('id', '=', sessionId)
    return (await query.executeTakeFirst())?.time_scale ?? 1
  }

  async report(sessionId: string): Promise<Report | null> {
    const query = this.#db.selectFrom('reports').select('report').where('session_id', '=', sessionId)
    const row = await query.executeTakeFirst()
    return row ? JSON.parse(row.report) : null
  }

  async timeline(sessionId: string): Promise<Omit<Timeline, 'marks'> | null> {
    const query = this.#db.selectFrom('reports').select('timeline').where('session_id', '=', sessionId)
    const row = await query.executeTakeFirst()
    return row ? JSON.parse(row.timeline) : null
  }

  async hold(sessionId: string, index: number): Promise<HoldDetail | null> {
    const query = this.#db.selectFrom('holds').select('detail').where('session_id', '=', sessionId)
    const row = await query.where('hold_index', '=', index).executeTakeFirst()
    return row ? JSON.parse(row.detail) : null
  }
}

function markRow(sessionId: string, mark: StoredMark): Omit<MarksTable, 'seq'> {
  return { session_id: sessionId, id: mark.id, at_s: mark.atS, kind: mark.kind, note: mark.note }
}
