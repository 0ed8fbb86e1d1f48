import type { Selectable } from 'kysely'
import type { Share } from '#protocol/people'
import type { Author } from '../../changes.ts'
import type { NewShareRecord, OpenShareRecord, ShareRecords, ShareScope } from '../../people/shares.ts'
import type { Connection, Step } from '../connection.ts'
import type { SharesTable } from './people-schema.ts'
import { eventQuery, tellBoth } from './security-events.ts'

export class SqliteShares implements ShareRecords {
  readonly #connection: Connection
  readonly #db: Connection['db']

  constructor(connection: Connection) {
    this.#connection = connection
    this.#db = connection.db
  }

  async add({ id, dogId, scope, secretHash, expiresAt }: NewShareRecord, by: Author): Promise<Share> {
    const row: Selectable<SharesTable> = {
      id,
      dog_id: dogId,
      kind: scope.kind,
      session_id: scope.kind === 'live' ? scope.sessionId : null,
      from_day: scope.kind === 'report' ? scope.from : null,
      to_day: scope.kind === 'report' ? scope.to : null,
      questions: scope.kind === 'report' ? scope.questions : null,
      secret_hash: secretHash,
      created_by: by.personId,
      creator_name: by.name,
      created_at: new Date().toISOString(),
      expires_at: expiresAt,
      revoked_at: null,
      opened: 0,
      last_opened_at: null,
    }
    this.#connection.together(({ run }) => {
      run(this.#db.insertInto('shares').values(row).compile())
      const { kind } = scope
      tellBoth(this.#db, run, by, { action: 'share.made', dogId, detail: { id, kind, expiresAt } })
    })
    return shareOf(row)
  }

  async ofDog(dogId: string, since: Date): Promise<Share[]> {
    const rows = await this.#db
      .selectFrom('shares')
      .selectAll()
      .where('dog_id', '=', dogId)
      .where('expires_at', '>', since.toISOString())
      .orderBy('created_at', 'desc')
      .execute()
    return rows.map(shareOf)
  }

  async revoke(dogId: string, id: string, by: Author): Promise<boolean> {
    return this.#connection.together(({ run }) => {
      const one = this.#db
        .updateTable('shares')
        .set({ revoked_at: new Date().toISOString() })
        .where('id', '=', id)
        .where('dog_id', '=', dogId)
        .where('revoked_at', 'is', null)
      if (run(one.compile()) === 0) return false
      run(this.#db.deleteFrom('passes').where('share_id', '=', id).compile())
      tellBoth(this.#db, run, by, { action: 'share.revoked', dogId, detail: { id } })
      return true
    })
  }

  async find(id: string, now: Date): Promise<OpenShareRecord | null> {
    return this.#working(this.#connection, 'id', id, now)
  }

  async open(secretHash: string, now: Date): Promise<OpenShareRecord | null> {
    return this.#connection.together((step) => {
      const share = this.#working(step, 'secret_hash', secretHash, now)
      if (!share) return null
      const { id, dogId } = share
      step.run(
        this.#db
          .updateTable('shares')
          .set((eb) => ({ opened: eb('opened', '+', 1), last_opened_at: now.toISOString() }))
          .where('id', '=', id)
          .compile(),
      )
      const by = { name: 'somebody with the link', personId: null }
      step.run(eventQuery(this.#db, by, { action: 'share.opened', dogId, detail: { id } }))
      return share
    })
  }

  #working(
    { rows }: Pick<Step, 'rows'>,
    column: 'id' | 'secret_hash',
    value: string,
    now: Date,
  ): OpenShareRecord | null {
    const query = this.#db
      .selectFrom('shares')
      .innerJoin('dogs', 'dogs.id', 'shares.dog_id')
      .selectAll('shares')
      .select('dogs.name as dog_name')
      .where(`shares.${column}`, '=', value)
      .where('revoked_at', 'is', null)
      .where('expires_at', '>', now.toISOString())
    const row = rows(query.compile()).at(0)
    if (!row) return null
    return {
      id: row.id,
      dogId: row.dog_id,
      dogName: row.dog_name,
      scope: scopeOf(row),
      createdAt: row.created_at,
      expiresAt: row.expires_at,
    }
  }
}

function scopeOf(row: Selectable<SharesTable>): ShareScope {
  return row.kind === 'live'
    ? { kind: 'live', sessionId: row.session_id! }
    : { kind: 'report', from: row.from_day!, to: row.to_day!, questions: row.questions ?? '' }
}

function shareOf(row: Selectable<SharesTable>): Share {
  return {
    id: row.id,
    kind: row.kind,
    ...(row.session_id !== null && { sessionId: row.session_id }),
    ...(row.from_day !== null && row.to_day !== null && { from: row.from_day, to: row.to_day }),
    createdBy: row.creator_name,
    createdAt: row.created_at,
    expiresAt: row.expires_at,
    revokedAt: row.revoked_at,
    opened: row.opened,
    lastOpenedAt: row.last_opened_at,
  }
}
