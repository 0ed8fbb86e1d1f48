import type { CheckIn } from '#protocol/resources'
import type { Author, Changed, Precondition } from '../changes.ts'
import type { CheckInRecords, StoredCheckIn } from '../plans.ts'
import { auditQuery } from './audit.ts'
import type { Connection } from './connection.ts'

const always: Precondition = () => true

/** What was said already changes nothing and keeps its version and time. */
export class SqliteCheckIns implements CheckInRecords {
  readonly #connection: Connection

  constructor(connection: Connection) {
    this.#connection = connection
  }

  async set(
    sessionId: string,
    { answer, note = null }: Omit<CheckIn, 'note'> & { note?: string | null },
    precondition = always,
    by?: Author,
  ): Promise<Changed<StoredCheckIn>> {
    const { db, together } = this.#connection
    return together(({ rows, run }) => {
      const [session] = rows(this.#session(sessionId))
      if (!session) return { kind: 'missing' }
      const { dog_id: dogId, check_in_version: removed, ...before } = session
      if (!precondition(before.version)) return { kind: 'other version', version: before.version }
      const same = recordOf(before)
      if (same?.answer === answer && same.note === note) return { kind: 'changed', record: same }
      const at = new Date().toISOString()
      const stored = { answer, note, at, version: (before.version ?? removed) + 1 }
      run(
        db
          .insertInto('check_ins')
          .values({ session_id: sessionId, ...stored })
          .onConflict((conflict) => conflict.column('session_id').doUpdateSet(stored))
          .compile(),
      )
      const isNew = before.version === null
      const after = { answer, note }
      const detail = isNew ? after : { before: { answer: before.answer, note: before.note }, after }
      const action = isNew ? 'check-in.set' : 'check-in.changed'
      if (by !== undefined) run(auditQuery(db, by, { dogId, sessionId, action, detail }))
      return { kind: 'changed', record: stored }
    })
  }

  async remove(sessionId: string, precondition = always, by?: Author): Promise<Changed<null>> {
    const { db, together } = this.#connection
    return together(({ rows, run }) => {
      const [session] = rows(this.#session(sessionId))
      if (!session || session.version === null) return { kind: 'missing' }
      const { dog_id: dogId, answer, note, version } = session
      if (!precondition(version)) return { kind: 'other version', version }
      run(db.deleteFrom('check_ins').where('session_id', '=', sessionId).compile())
      // The next one goes on from here: its ETag is none that this one ever had.
      const kept = db.updateTable('sessions').set({ check_in_version: version })
      run(kept.where('id', '=', sessionId).compile())
      const line = { dogId, sessionId, action: 'check-in.removed', detail: { before: { answer, note } } }
      if (by !== undefined) run(auditQuery(db, by, line))
      return { kind: 'changed', record: null }
    })
  }

  /** The session's dog and its answer, nulls without one. */
  #session(sessionId: string) {
    return this.#connection.db
      .selectFrom('sessions')
      .leftJoin('check_ins', 'check_ins.session_id', 'sessions.id')
      .select(['dog_id', 'answer', 'check_ins.note', 'at', 'check_ins.version', 'check_in_version'])
      .where('sessions.id', '=', sessionId)
      .compile()
  }
}

function recordOf({ answer, note, at, version }: Nullable<StoredCheckIn>): StoredCheckIn | null {
  return answer === null || at === null || version === null ? null : { answer, note, at, version }
}

type Nullable<T> = { readonly [Name in keyof T]: T[Name] | null }
