import type { MarkKind } from '#signal/trace/trace'
import type { StoredMark } from '#protocol/messages'
import type { Connection } from './connection.ts'
import type { MarksTable } from './schema.ts'

/** Ascending in time; marks of one instant in the order they came. */
export function marksQuery(db: Connection['db'], sessionId: string) {
  const query = db.selectFrom('marks').selectAll().where('session_id', '=', sessionId)
  return query.orderBy('at_s').orderBy('seq').compile()
}

export function markRow(sessionId: string, mark: StoredMark): Omit<MarksTable, 'seq'> {
  return { session_id: sessionId, id: mark.id, at_s: mark.atS, kind: mark.kind, note: mark.note }
}

export function markOf({ id, at_s, kind, note }: Omit<MarksTable, 'seq' | 'session_id'>): StoredMark {
  return { id, atS: at_s, kind: kind as MarkKind, note }
}

/** The version of a session's marks and corrected holds, its dog, and its state. */
export function versionQuery(db: Connection['db'], sessionId: string) {
  const query = db.selectFrom('sessions').select(['dog_id', 'edits_version', 'state'])
  return query.where('id', '=', sessionId).compile()
}

export function raisedVersion(db: Connection['db'], sessionId: string) {
  return db
    .updateTable('sessions')
    .set((eb) => ({ edits_version: eb('edits_version', '+', 1) }))
    .where('id', '=', sessionId)
    .compile()
}
