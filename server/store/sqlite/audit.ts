import type { CompiledQuery } from 'kysely'
import type { AuditPage, AuditRecords } from '../audit.ts'
import type { Author } from '../changes.ts'
import type { SessionState } from '../records.ts'
import type { Connection } from './connection.ts'

/** One line of the audit trail, to be written in the transaction of the change it tells of. */
export interface AuditLine {
  readonly dogId: string
  readonly sessionId?: string
  /** `<thing>.<what happened>`. */
  readonly action: string
  /** What it was and what it is, as far as it says more than the action; never samples. */
  readonly detail?: object
}

export function auditQuery(db: Connection['db'], by: Author, line: AuditLine): CompiledQuery {
  return db
    .insertInto('audit')
    .values({
      at: new Date().toISOString(),
      dog_id: line.dogId,
      session_id: line.sessionId ?? null,
      actor: by.name,
      actor_id: by.personId,
      action: line.action,
      detail: JSON.stringify(line.detail ?? {}),
    })
    .compile()
}

/**
 * Told beside a change of what is measured: one made while the session was being recorded belongs to the
 * recording, a later one corrects what was finished.
 */
export function whileRecording(state: SessionState): { whileRecording?: true } {
  return state === 'recording' ? { whileRecording: true } : {}
}

/** Of all fields of `after` those that are others than `before`: both sides, null when none is. */
export function differences<T extends object>(
  before: T,
  after: Partial<T>,
): { before: Partial<T>; after: Partial<T> } | null {
  const names = (Object.keys(after) as (keyof T)[]).filter(
    (name) => JSON.stringify(before[name] ?? null) !== JSON.stringify(after[name] ?? null),
  )
  if (names.length === 0) return null
  const side = (of: Partial<T>) => Object.fromEntries(names.map((name) => [name, of[name]])) as Partial<T>
  return { before: side(before), after: side(after) }
}

export class SqliteAudit implements AuditRecords {
  readonly #connection: Connection

  constructor(connection: Connection) {
    this.#connection = connection
  }

  async tell(dogId: string, sessionId: string, action: string, by: Author): Promise<void> {
    const { db, atomically } = this.#connection
    atomically([auditQuery(db, by, { dogId, sessionId, action })])
  }

  async page(dogId: string, { limit, cursor }: { limit: number; cursor?: string }): Promise<AuditPage> {
    const below = cursor !== undefined && /^\d{1,15}$/.test(cursor) ? Number(cursor) : null
    const rows = await this.#connection.db
      .selectFrom('audit')
      .selectAll()
      .where('dog_id', '=', dogId)
      .$if(below !== null, (query) => query.where('seq', '<', below!))
      .orderBy('seq', 'desc')
      .limit(limit + 1)
      .execute()
    const page = rows.slice(0, limit)
    return {
      entries: page.map(({ seq, at, session_id, actor, action, detail }) => ({
        seq,
        at,
        sessionId: session_id,
        actor,
        action,
        detail: JSON.parse(detail) as unknown,
      })),
      next: rows.length > limit ? String(page.at(-1)!.seq) : null,
    }
  }
}
