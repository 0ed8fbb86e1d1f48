import type { Author } from '../changes.ts'
import { auditQuery } from './audit.ts'
import type { Connection } from './connection.ts'

/**
 * Removes a session with everything recorded of it and what the audit trail quotes of it: that it was there, when
 * it began and what was done with it stays. Without an author, for what was never finished, that goes as well.
 * False when there is none.
 */
export function deleteSession({ db, together }: Connection, id: string, by: Author | undefined): boolean {
  return together(({ rows, run }) => {
    const query = db.deleteFrom('sessions').where('id', '=', id).returning(['dog_id', 'started_at_us'])
    const [row] = rows(query.compile())
    if (!row) return false
    if (by === undefined) {
      run(db.deleteFrom('audit').where('session_id', '=', id).compile())
      return true
    }
    run(db.updateTable('audit').set({ detail: '{}' }).where('session_id', '=', id).compile())
    const startedAt = row.started_at_us === null ? null : new Date(row.started_at_us / 1000).toISOString()
    const line = { dogId: row.dog_id, sessionId: id, action: 'session.deleted', detail: { startedAt } }
    run(auditQuery(db, by, line))
    return true
  })
}
