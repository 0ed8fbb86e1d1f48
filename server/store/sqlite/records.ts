import { sql } from 'kysely'
import type { StoredMark } from '#protocol/messages'
import type {
  Dog,
  DogChange,
  HoldDetail,
  NewDog,
  SensorDescription,
  SessionSummary,
  Timeline,
} from '#protocol/resources'
import type { Report } from '#signal/report-types'
import type { Author, Changed, Precondition } from '../changes.ts'
import type { AnalysisRecord, NewSessionRecord, ReanalysisTold, Records, SessionChange } from '../records.ts'
import { DuplicateContentError, SessionExistsError } from '../records.ts'
import type { SessionCorrection, SessionPage, SessionQuery, SessionState } from '../records.ts'
import { saveAnalysis } from './analysis-rows.ts'
import { auditQuery, SqliteAudit } from './audit.ts'
import type { Connection } from './connection.ts'
import { changeDog } from './dog-change.ts'
import { dogOf, dogQuery, dogRow } from './dog-rows.ts'
import { SqliteCheckIns } from './check-ins.ts'
import { SqliteDiary } from './diary.ts'
import { SqliteEdits } from './edits.ts'
import { addMark, deleteMark } from './marks.ts'
import { markOf, markRow, marksQuery } from './mark-rows.ts'
import { dogsOfPerson, roleInsert } from './people/roles.ts'
import { eventQuery } from './people/security-events.ts'
import { SqlitePlans } from './plans.ts'
import { SqliteRepetitionNotes } from './repetition-notes.ts'
import { changeSession } from './session-change.ts'
import { deleteSession } from './session-deletion.ts'
import { sessionQuery } from './session-query.ts'
import { cursorOf, positionOf, sessionRow, summaryOf } from './session-rows.ts'
import { SqliteTrendSettings } from './trend-settings.ts'
import { SqliteTrendSource } from './trend-source.ts'

export class SqliteRecords implements Records {
  readonly plans: SqlitePlans
  readonly checkIns: SqliteCheckIns
  readonly edits: SqliteEdits
  readonly repetitionNotes: SqliteRepetitionNotes
  readonly diary: SqliteDiary
  readonly trendSettings: SqliteTrendSettings
  readonly audit: SqliteAudit
  readonly trends: SqliteTrendSource
  readonly #connection: Connection
  readonly #db: Connection['db']

  constructor(connection: Connection) {
    this.#connection = connection
    this.#db = connection.db
    this.plans = new SqlitePlans(connection)
    this.checkIns = new SqliteCheckIns(connection)
    this.edits = new SqliteEdits(connection)
    this.repetitionNotes = new SqliteRepetitionNotes(connection)
    this.diary = new SqliteDiary(connection)
    this.trendSettings = new SqliteTrendSettings(connection)
    this.audit = new SqliteAudit(connection)
    this.trends = new SqliteTrendSource(connection)
  }

  async addDog(dog: NewDog & { id: string }, by?: Author): Promise<void> {
    const { id, ...detail } = dog
    this.#connection.atomically([
      this.#db.insertInto('dogs').values(dogRow(dog)).compile(),
      ...(by === undefined ? [] : [auditQuery(this.#db, by, { dogId: id, action: 'dog.created', detail })]),
      ...(by?.personId ? [roleInsert(this.#db, id, by.personId, 'owner')] : []),
    ])
  }

  async dog(id: string): Promise<Dog | null> {
    return (await dogQuery(this.#db, id).execute()).map(dogOf)[0] ?? null
  }

  async dogs(visibleTo?: string): Promise<Dog[]> {
    const query = dogQuery(this.#db).$if(visibleTo !== undefined, (all) =>
      all.where('id', 'in', dogsOfPerson(this.#db, visibleTo!)),
    )
    return (await query.execute()).map(dogOf)
  }

  async changeDog(
    id: string,
    change: DogChange,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<Dog>> {
    return changeDog(this.#connection, id, change, precondition, by)
  }

  async deleteDog(id: string, by?: Author): Promise<boolean> {
    const deleted = this.#connection.together(({ run }) => {
      if (run(this.#db.deleteFrom('dogs').where('id', '=', id).compile()) === 0) return false
      // What happened stays told; the dog it was about is gone from there, too.
      const events = this.#db.updateTable('security_events').set({ dog_id: null })
      run(events.where('dog_id', '=', id).compile())
      if (by) run(eventQuery(this.#db, by, { action: 'dog.deleted' }))
      return true
    })
    return this.#erased(deleted)
  }

  async deleteSession(id: string, by?: Author): Promise<boolean> {
    return this.#erased(deleteSession(this.#connection, id, by))
  }

  /** Everything that belongs to a deleted row went with it; the log still holds it until emptied. */
  #erased(done: boolean): boolean {
    if (done) this.#connection.raw.pragma('wal_checkpoint(TRUNCATE)')
    return done
  }

  async addSession(session: NewSessionRecord, by?: Author): Promise<void> {
    const { db, together } = this.#connection
    const { id: sessionId, dogId, sensor, fileName, setUp, planned = null } = session
    const stored = together(({ run }) => {
      const insert = db.insertInto('sessions').values(sessionRow(session, new Date()))
      if (run(insert.onConflict((conflict) => conflict.doNothing()).compile()) === 0) return false
      const detail = { sensor, fileName, setUp, planned }
      const line = { dogId, sessionId, action: 'session.created', detail }
      if (by !== undefined) run(auditQuery(db, by, line))
      return true
    })
    if (stored) return
    const other = session.contentHash && (await this.sessionWithContent(session.dogId, session.contentHash))
    if (other) throw new DuplicateContentError(other)
    throw new SessionExistsError(`there is a session ${session.id}`)
  }

  async session(id: string): Promise<SessionSummary | null> {
    const row = await sessionQuery(this.#db).where('sessions.id', '=', id).executeTakeFirst()
    return row ? summaryOf(row) : null
  }

  async sessionNotes(sessionId: string): Promise<string | null> {
    const query = this.#db.selectFrom('sessions').select('notes').where('id', '=', sessionId)
    return (await query.executeTakeFirst())?.notes ?? null
  }

  async sensorDescription(sessionId: string): Promise<SensorDescription | null> {
    const query = this.#db.selectFrom('sessions').select('sensor_description').where('id', '=', sessionId)
    const text = (await query.executeTakeFirst())?.sensor_description
    return text ? JSON.parse(text) : null
  }

  async sessions({ dogId, limit, cursor, visibleTo }: SessionQuery): Promise<SessionPage> {
    const position = cursor === undefined ? null : positionOf(cursor)
    const rows = await sessionQuery(this.#db)
      .$if(dogId !== undefined, (query) => query.where('sessions.dog_id', '=', dogId!))
      .$if(visibleTo !== undefined, (query) =>
        query.where('sessions.dog_id', 'in', dogsOfPerson(this.#db, visibleTo!)),
      )
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
    const rows = await sessionQuery(this.#db).where('state', '=', state).execute()
    return rows.map(summaryOf)
  }

  async sessionWithContent(dogId: string, contentHash: string): Promise<string | null> {
    const query = this.#db.selectFrom('sessions').select('id').where('dog_id', '=', dogId)
    const row = await query.where('content_hash', '=', contentHash).executeTakeFirst()
    return row?.id ?? null
  }

  async changeSession(
    id: string,
    change: SessionCorrection,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<SessionSummary>> {
    return changeSession(this.#connection, id, change, precondition, by)
  }

  async updateSession(id: string, change: SessionChange): Promise<boolean> {
    return this.#connection.together(({ run }) => run(this.#updateQuery(id, change)) > 0)
  }

  async endSession(id: string, change: SessionChange, by: Author): Promise<boolean> {
    return this.#connection.together(({ rows, run }) => {
      if (run(this.#updateQuery(id, change)) === 0) return false
      const query = this.#db.selectFrom('sessions').select('dog_id').where('id', '=', id)
      const [{ dog_id: dogId }] = rows(query.compile())
      run(auditQuery(this.#db, by, { dogId, sessionId: id, action: 'session.finished' }))
      return true
    })
  }

  #updateQuery(id: string, change: SessionChange) {
    const columns = {
      ...(change.state !== undefined && { state: change.state }),
      ...(change.startedAtUs !== undefined && {
        started_at_us: change.startedAtUs,
        ordered_at_us: change.startedAtUs,
      }),
      ...(change.rateHz !== undefined && { rate_hz: change.rateHz }),
      ...(change.problem !== undefined && { problem: change.problem }),
    }
    return this.#db.updateTable('sessions').set(columns).where('id', '=', id).compile()
  }

  async addMark(sessionId: string, mark: StoredMark, by?: Author): Promise<boolean> {
    return addMark(this.#connection, sessionId, mark, by)
  }

  async addMarks(sessionId: string, marks: readonly StoredMark[]): Promise<void> {
    const queries = marks.map((mark) =>
      this.#db.insertInto('marks').values(markRow(sessionId, mark)).compile(),
    )
    this.#connection.atomically(queries)
  }

  async marks(sessionId: string): Promise<StoredMark[]> {
    return this.#connection.rows(marksQuery(this.#db, sessionId)).map(markOf)
  }

  async deleteMark(sessionId: string, markId: string, by?: Author): Promise<boolean> {
    return deleteMark(this.#connection, sessionId, markId, by)
  }

  async saveAnalysis(sessionId: string, analysis: AnalysisRecord, told?: ReanalysisTold): Promise<void> {
    saveAnalysis(this.#connection, sessionId, analysis, told)
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
