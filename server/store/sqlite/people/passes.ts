import type { Selectable } from 'kysely'
import type { NewPass, PassRecord, PassRecords } from '../../people/passes.ts'
import type { Connection } from '../connection.ts'
import type { PassesTable } from './people-schema.ts'

export class SqlitePasses implements PassRecords {
  readonly #connection: Connection
  readonly #db: Connection['db']

  constructor(connection: Connection) {
    this.#connection = connection
    this.#db = connection.db
  }

  async add(pass: NewPass): Promise<void> {
    const seen = this.#db
      .updateTable('people')
      .set({ last_seen_at: new Date(pass.createdAtMs).toISOString() })
      .where('id', '=', pass.personId)
      .compile()
    this.#connection.atomically([
      this.#db
        .insertInto('passes')
        .values({
          hash: pass.hash,
          id: pass.id,
          kind: pass.kind,
          person_id: pass.personId,
          share_id: pass.shareId,
          session_id: pass.sessionId,
          device: pass.device,
          created_at_ms: pass.createdAtMs,
          last_seen_at_ms: pass.createdAtMs,
          expires_at_ms: pass.expiresAtMs,
        })
        .compile(),
      ...(pass.kind === 'sign-in' ? [seen] : []),
    ])
  }

  async find(hash: string): Promise<PassRecord | null> {
    const query = this.#db.selectFrom('passes').selectAll().where('hash', '=', hash)
    const row = await query.executeTakeFirst()
    return row ? passOf(row) : null
  }

  async touch(hash: string, nowMs: number): Promise<void> {
    const at = new Date(nowMs).toISOString()
    const person = this.#db.selectFrom('passes').select('person_id').where('hash', '=', hash)
    this.#connection.atomically([
      this.#db.updateTable('passes').set({ last_seen_at_ms: nowMs }).where('hash', '=', hash).compile(),
      this.#db.updateTable('people').set({ last_seen_at: at }).where('id', '=', person).compile(),
    ])
  }

  async remove(hash: string): Promise<void> {
    await this.#db.deleteFrom('passes').where('hash', '=', hash).execute()
  }

  async ofPerson(personId: string): Promise<PassRecord[]> {
    const rows = await this.#db
      .selectFrom('passes')
      .selectAll()
      .where('person_id', '=', personId)
      .where('kind', '=', 'sign-in')
      .orderBy('created_at_ms', 'desc')
      .execute()
    return rows.map(passOf)
  }

  async removeOne(personId: string, id: string): Promise<boolean> {
    const { numDeletedRows } = await this.#db
      .deleteFrom('passes')
      .where('person_id', '=', personId)
      .where('kind', '=', 'sign-in')
      .where('id', '=', id)
      .executeTakeFirst()
    return numDeletedRows > 0n
  }

  async removeOthers(personId: string, hash: string): Promise<void> {
    await this.#db
      .deleteFrom('passes')
      .where('person_id', '=', personId)
      .where('kind', '=', 'sign-in')
      .where('hash', '<>', hash)
      .execute()
  }

  async keepNewest(personId: string, count: number): Promise<void> {
    const own = this.#db
      .selectFrom('passes')
      .select('hash')
      .where('person_id', '=', personId)
      .where('kind', '=', 'sign-in')
      .orderBy('last_seen_at_ms', 'desc')
      .orderBy('created_at_ms', 'desc')
      // SQLite: no limit, to have an offset.
      .limit(-1)
      .offset(count)
    await this.#db.deleteFrom('passes').where('hash', 'in', own).execute()
  }

  async removeOver(nowMs: number, idleSinceMs: number): Promise<void> {
    await this.#db
      .deleteFrom('passes')
      .where((eb) =>
        eb.or([
          eb('expires_at_ms', '<=', nowMs),
          eb('kind', '=', 'sign-in').and('last_seen_at_ms', '<=', idleSinceMs),
        ]),
      )
      .execute()
  }

  async removeDemos(): Promise<void> {
    await this.#db.deleteFrom('passes').where('kind', '=', 'demo').execute()
  }
}

function passOf(row: Selectable<PassesTable>): PassRecord {
  return {
    hash: row.hash,
    id: row.id,
    kind: row.kind,
    personId: row.person_id,
    shareId: row.share_id,
    sessionId: row.session_id,
    device: row.device,
    createdAtMs: row.created_at_ms,
    lastSeenAtMs: row.last_seen_at_ms,
    expiresAtMs: row.expires_at_ms,
  }
}
