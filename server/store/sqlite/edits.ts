import { sql } from 'kysely'
import type { StoredMark } from '#protocol/messages'
import type { HoldEdit } from '#protocol/session-review'
import type { Author, Changed, Precondition } from '../changes.ts'
import type { EditRecords, ReplacedEdits, StoredEdits } from '../edits.ts'
import { auditQuery } from './audit.ts'
import type { Connection, Step } from './connection.ts'
import { editDifferences } from './edit-differences.ts'
import type { Difference } from './edit-differences.ts'
import { markOf, markRow, marksQuery, raisedVersion, versionQuery } from './mark-rows.ts'
import type { HoldEditsTable } from './schema.ts'

export class SqliteEdits implements EditRecords {
  readonly #connection: Connection

  constructor(connection: Connection) {
    this.#connection = connection
  }

  async edits(sessionId: string): Promise<(StoredEdits & { version: number }) | null> {
    const { db, rows } = this.#connection
    const [session] = rows(versionQuery(db, sessionId))
    if (!session) return null
    return { ...editsOf(rows, db, sessionId), version: session.edits_version }
  }

  async replace(
    sessionId: string,
    edits: StoredEdits,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<ReplacedEdits>> {
    const { db, together } = this.#connection
    return together(({ rows, run }) => {
      const [session] = rows(versionQuery(db, sessionId))
      if (!session) return { kind: 'missing' }
      const { edits_version, dog_id: dogId } = session
      if (!precondition(edits_version)) return { kind: 'other version', version: edits_version }
      const before = editsOf(rows, db, sessionId)
      const detail = editDifferences(before, edits)
      if (!detail) return { kind: 'changed', record: { version: edits_version, differs: false } }
      run(db.deleteFrom('marks').where('session_id', '=', sessionId).compile())
      run(db.deleteFrom('hold_edits').where('session_id', '=', sessionId).compile())
      for (const some of inBatches(edits.marks)) {
        run(
          db
            .insertInto('marks')
            .values(some.map((mark) => markRow(sessionId, mark)))
            .compile(),
        )
      }
      for (const some of inBatches(edits.holds)) {
        run(
          db
            .insertInto('hold_edits')
            .values(some.map((hold) => holdEditRow(sessionId, hold)))
            .compile(),
        )
      }
      run(raisedVersion(db, sessionId))
      run(auditQuery(db, by, { dogId, sessionId, action: 'edits.changed', detail }))
      return { kind: 'changed', record: { version: edits_version + 1, differs: true } }
    })
  }

  async removedMarks(sessionId: string): Promise<StoredMark[]> {
    const { db, rows } = this.#connection
    const lines = rows(
      db
        .selectFrom('audit')
        .select('detail')
        .where('session_id', '=', sessionId)
        .where('action', 'in', ['edits.changed', 'mark.removed'])
        .orderBy('seq', 'desc')
        .compile(),
    )
    return lines.flatMap(({ detail }) => removedMarksOf(JSON.parse(detail)))
  }
}

/** Rows that one statement takes: a statement for each is slow for thousands, and SQLite limits its values. */
const BATCH = 500

function inBatches<T>(all: readonly T[]): T[][] {
  return Array.from({ length: Math.ceil(all.length / BATCH) }, (_, i) =>
    all.slice(i * BATCH, (i + 1) * BATCH),
  )
}

/** Of one line of the audit trail: as `editDifferences` and `deleteMark` write it; nothing once a session is deleted. */
function removedMarksOf({ before, marks }: RemovedMarks): StoredMark[] {
  const { removed = [], changed = [] } = marks ?? {}
  return [...(before ? [before] : []), ...removed, ...changed.map((one) => one.before)]
}

interface RemovedMarks {
  readonly before?: StoredMark
  readonly marks?: Difference<StoredMark>
}

function editsOf(rows: Step['rows'], db: Connection['db'], sessionId: string): StoredEdits {
  return {
    marks: rows(marksQuery(db, sessionId)).map(markOf),
    holds: rows(holdEditsQuery(db, sessionId)).map(holdEditOf),
  }
}

function holdEditsQuery(db: Connection['db'], sessionId: string) {
  return db
    .selectFrom('hold_edits')
    .selectAll()
    .where('session_id', '=', sessionId)
    .orderBy('from_s')
    .orderBy(sql`rowid`)
    .compile()
}

function holdEditRow(sessionId: string, { id, kind, fromS, toS, reason }: HoldEdit): HoldEditsTable {
  return { session_id: sessionId, id, kind, from_s: fromS, to_s: toS, reason }
}

function holdEditOf({ id, kind, from_s, to_s, reason }: HoldEditsTable): HoldEdit {
  return { id, kind, fromS: from_s, toS: to_s, reason }
}
