import type { NewRepetitionNote, RepetitionNote } from '#protocol/session-review'
import type { Author, Changed, Precondition } from '../changes.ts'
import type { RepetitionNoteRecords } from '../repetition-notes.ts'
import { auditQuery, differences } from './audit.ts'
import type { Connection } from './connection.ts'
import type { RepetitionNotesTable } from './schema.ts'

export class SqliteRepetitionNotes implements RepetitionNoteRecords {
  readonly #connection: Connection

  constructor(connection: Connection) {
    this.#connection = connection
  }

  async notes(sessionId: string): Promise<RepetitionNote[]> {
    const query = this.#connection.db.selectFrom('repetition_notes').selectAll()
    const rows = await query.where('session_id', '=', sessionId).orderBy('at_s').orderBy('id').execute()
    return rows.map(noteOf)
  }

  async set(
    sessionId: string,
    noteId: string,
    note: NewRepetitionNote,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<RepetitionNote>> {
    const { db, together } = this.#connection
    return together(({ rows, run }) => {
      const [session] = rows(this.#session(sessionId))
      if (!session) return { kind: 'missing' }
      const [row] = rows(this.#one(sessionId, noteId))
      const before = row ? noteOf(row) : null
      const version = before?.version ?? null
      if (!precondition(version)) return { kind: 'other version', version }
      const detail = before ? differences<RepetitionNote>(before, note) : note
      if (before && !detail) return { kind: 'changed', record: before }
      const changed = {
        at_s: note.atS,
        stance: note.stance,
        signs: JSON.stringify(note.signs),
        note: note.note,
        version: (version ?? 0) + 1,
        updated_at: new Date().toISOString(),
      }
      const stored: RepetitionNotesTable = { session_id: sessionId, id: noteId, ...changed }
      run(
        db
          .insertInto('repetition_notes')
          .values(stored)
          .onConflict((conflict) => conflict.columns(['session_id', 'id']).doUpdateSet(changed))
          .compile(),
      )
      const action = before ? 'repetition-note.changed' : 'repetition-note.added'
      run(auditQuery(db, by, { dogId: session.dog_id, sessionId, action, detail: { id: noteId, ...detail } }))
      return { kind: 'changed', record: noteOf(stored) }
    })
  }

  async remove(
    sessionId: string,
    noteId: string,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<RepetitionNote>> {
    const { db, together } = this.#connection
    return together(({ rows, run }) => {
      const [session] = rows(this.#session(sessionId))
      const [row] = rows(this.#one(sessionId, noteId))
      if (!session || !row) return { kind: 'missing' }
      if (!precondition(row.version)) return { kind: 'other version', version: row.version }
      const record = noteOf(row)
      run(
        db
          .deleteFrom('repetition_notes')
          .where('session_id', '=', sessionId)
          .where('id', '=', noteId)
          .compile(),
      )
      const action = 'repetition-note.removed'
      run(auditQuery(db, by, { dogId: session.dog_id, sessionId, action, detail: { before: record } }))
      return { kind: 'changed', record }
    })
  }

  #session(sessionId: string) {
    return this.#connection.db.selectFrom('sessions').select('dog_id').where('id', '=', sessionId).compile()
  }

  #one(sessionId: string, noteId: string) {
    const query = this.#connection.db.selectFrom('repetition_notes').selectAll()
    return query.where('session_id', '=', sessionId).where('id', '=', noteId).compile()
  }
}

function noteOf(row: RepetitionNotesTable): RepetitionNote {
  return {
    id: row.id,
    atS: row.at_s,
    stance: row.stance as RepetitionNote['stance'],
    signs: JSON.parse(row.signs) as RepetitionNote['signs'],
    note: row.note,
    version: row.version,
    updatedAt: row.updated_at,
  }
}
