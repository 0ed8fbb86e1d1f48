import type { StoredMark } from '#protocol/messages'
import type { Author } from '../changes.ts'
import { auditQuery, whileRecording } from './audit.ts'
import type { Connection } from './connection.ts'
import { markOf, markRow, raisedVersion, versionQuery } from './mark-rows.ts'

/** False when the session has a mark of this id already. */
export function addMark(
  { db, together }: Connection,
  sessionId: string,
  mark: StoredMark,
  by: Author | undefined,
): boolean {
  return together(({ rows, run }) => {
    const insert = db
      .insertInto('marks')
      .values(markRow(sessionId, mark))
      .onConflict((conflict) => conflict.columns(['session_id', 'id']).doNothing())
    if (run(insert.compile()) === 0) return false
    run(raisedVersion(db, sessionId))
    const [{ dog_id: dogId, state }] = rows(versionQuery(db, sessionId))
    const detail = { ...mark, ...whileRecording(state) }
    if (by !== undefined) run(auditQuery(db, by, { dogId, sessionId, action: 'mark.added', detail }))
    return true
  })
}

/** False when there is no such mark. */
export function deleteMark(
  { db, together }: Connection,
  sessionId: string,
  markId: string,
  by: Author | undefined,
): boolean {
  return together(({ rows, run }) => {
    const remove = db
      .deleteFrom('marks')
      .where('session_id', '=', sessionId)
      .where('id', '=', markId)
      .returningAll()
    const [row] = rows(remove.compile())
    if (!row) return false
    run(raisedVersion(db, sessionId))
    const [{ dog_id: dogId, state }] = rows(versionQuery(db, sessionId))
    const detail = { before: markOf(row), ...whileRecording(state) }
    if (by !== undefined) run(auditQuery(db, by, { dogId, sessionId, action: 'mark.removed', detail }))
    return true
  })
}
