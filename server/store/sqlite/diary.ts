import type { DiaryEntry, NewDiaryEntry } from '#protocol/diary'
import type { Author, Changed, Precondition } from '../changes.ts'
import type { DiaryRecords } from '../diary.ts'
import { auditQuery, differences } from './audit.ts'
import type { Connection } from './connection.ts'
import type { DiaryEntriesTable } from './schema.ts'

export class SqliteDiary implements DiaryRecords {
  readonly #connection: Connection

  constructor(connection: Connection) {
    this.#connection = connection
  }

  async entries(dogId: string): Promise<DiaryEntry[]> {
    const query = this.#connection.db.selectFrom('diary_entries').selectAll().where('dog_id', '=', dogId)
    const rows = await query
      .orderBy('from_date', 'desc')
      .orderBy('created_at', 'desc')
      .orderBy('id')
      .execute()
    return rows.map(entryOf)
  }

  async add(dogId: string, entry: NewDiaryEntry & { id: string }, by: Author): Promise<DiaryEntry | null> {
    const { db, together } = this.#connection
    return together(({ rows, run }) => {
      const [dog] = rows(db.selectFrom('dogs').select('id').where('id', '=', dogId).compile())
      if (!dog) return null
      const now = new Date().toISOString()
      const row: DiaryEntriesTable = {
        ...columnsOf(entry),
        id: entry.id,
        dog_id: dogId,
        version: 1,
        created_at: now,
        updated_at: now,
      }
      run(db.insertInto('diary_entries').values(row).compile())
      run(auditQuery(db, by, { dogId, action: 'diary-entry.added', detail: entry }))
      return entryOf(row)
    })
  }

  async change(
    dogId: string,
    entryId: string,
    entry: NewDiaryEntry,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<DiaryEntry>> {
    const { db, together } = this.#connection
    return together(({ rows, run }) => {
      const [row] = rows(this.#one(dogId, entryId))
      if (!row) return { kind: 'missing' }
      if (!precondition(row.version)) return { kind: 'other version', version: row.version }
      const before = entryOf(row)
      const detail = differences<DiaryEntry>(before, entry)
      if (!detail) return { kind: 'changed', record: before }
      const changed = {
        ...columnsOf(entry),
        version: row.version + 1,
        updated_at: new Date().toISOString(),
      }
      run(db.updateTable('diary_entries').set(changed).where('id', '=', entryId).compile())
      run(auditQuery(db, by, { dogId, action: 'diary-entry.changed', detail: { id: entryId, ...detail } }))
      return { kind: 'changed', record: entryOf({ ...row, ...changed }) }
    })
  }

  async remove(
    dogId: string,
    entryId: string,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<DiaryEntry>> {
    const { db, together } = this.#connection
    return together(({ rows, run }) => {
      const [row] = rows(this.#one(dogId, entryId))
      if (!row) return { kind: 'missing' }
      if (!precondition(row.version)) return { kind: 'other version', version: row.version }
      const record = entryOf(row)
      run(db.deleteFrom('diary_entries').where('id', '=', entryId).compile())
      run(auditQuery(db, by, { dogId, action: 'diary-entry.removed', detail: { before: record } }))
      return { kind: 'changed', record }
    })
  }

  #one(dogId: string, entryId: string) {
    const query = this.#connection.db.selectFrom('diary_entries').selectAll()
    return query.where('id', '=', entryId).where('dog_id', '=', dogId).compile()
  }
}

function columnsOf({ kind, fromDate, untilDate, title, dose, note }: NewDiaryEntry) {
  return { kind, from_date: fromDate, until_date: untilDate, title, dose, note }
}

function entryOf(row: DiaryEntriesTable): DiaryEntry {
  return {
    id: row.id,
    dogId: row.dog_id,
    kind: row.kind,
    fromDate: row.from_date,
    untilDate: row.until_date,
    title: row.title,
    dose: row.dose,
    note: row.note,
    version: row.version,
    createdAt: row.created_at,
    updatedAt: row.updated_at,
  }
}
