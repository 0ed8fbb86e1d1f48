import type { CompiledQuery } from 'kysely'
import type { SecurityEventPage } from '#protocol/people'
import type { Author } from '../../changes.ts'
import type { SecurityEvents, SecurityLine } from '../../people/security-events.ts'
import { auditQuery } from '../audit.ts'
import type { Connection, Step } from '../connection.ts'

/** One line of the trail of the installation, to be written in the transaction of what it tells. */
export function eventQuery(
  db: Connection['db'],
  by: Author,
  { action, dogId, detail }: SecurityLine,
): CompiledQuery {
  return db
    .insertInto('security_events')
    .values({
      at: new Date().toISOString(),
      actor: by.name,
      actor_id: by.personId,
      action,
      dog_id: dogId ?? null,
      detail: JSON.stringify(detail ?? {}),
    })
    .compile()
}

/** What is about a dog is in both trails: in its own as long as the dog is there. */
export function tellBoth(
  db: Connection['db'],
  run: Step['run'],
  by: Author,
  line: SecurityLine & { readonly dogId: string; readonly sessionId?: string },
): void {
  run(eventQuery(db, by, line))
  run(auditQuery(db, by, line))
}

export class SqliteSecurityEvents implements SecurityEvents {
  readonly #connection: Connection

  constructor(connection: Connection) {
    this.#connection = connection
  }

  async tell(line: SecurityLine, by: Author): Promise<void> {
    const { db, atomically } = this.#connection
    atomically([eventQuery(db, by, line)])
  }

  async page({ limit, cursor }: { limit: number; cursor?: string }): Promise<SecurityEventPage> {
    const rows = await this.#connection.db
      .selectFrom('security_events')
      .selectAll()
      .$if(cursor !== undefined, (query) => query.where('seq', '<', Number(cursor)))
      .orderBy('seq', 'desc')
      .limit(limit + 1)
      .execute()
    const page = rows.slice(0, limit)
    return {
      entries: page.map(({ seq, at, actor, action, dog_id, detail }) => ({
        seq,
        at,
        actor,
        action,
        dogId: dog_id,
        detail: JSON.parse(detail) as unknown,
      })),
      next: rows.length > limit ? String(page.at(-1)!.seq) : null,
    }
  }
}
