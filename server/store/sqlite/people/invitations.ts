import { ROLES } from '#protocol/people'
import type { Invitation } from '#protocol/people'
import type { Author } from '../../changes.ts'
import type {
  FoundInvitation,
  InvitationRecords,
  NewInvitationRecord,
  NewPerson,
} from '../../people/invitations.ts'
import type { Connection, Step } from '../connection.ts'
import { insertPerson, passwordQueries } from './people-queries.ts'
import { roleInsert, roleQuery } from './roles.ts'
import { eventQuery, tellBoth } from './security-events.ts'

export class SqliteInvitations implements InvitationRecords {
  readonly #connection: Connection
  readonly #db: Connection['db']

  constructor(connection: Connection) {
    this.#connection = connection
    this.#db = connection.db
  }

  async add(invitation: NewInvitationRecord, by: Author): Promise<Invitation> {
    const { id, dogId, role, note, secretHash, expiresAt } = invitation
    const createdAt = new Date().toISOString()
    this.#connection.together(({ run }) => {
      const row = {
        id,
        dog_id: dogId,
        role,
        person_id: null,
        secret_hash: secretHash,
        note,
        created_by: by.personId,
        creator_name: by.name,
        created_at: createdAt,
        expires_at: expiresAt,
      }
      run(this.#db.insertInto('invitations').values(row).compile())
      tellBoth(this.#db, run, by, { action: 'invitation.made', dogId, detail: { role, expiresAt } })
    })
    return { id, role, note, invitedBy: by.name, createdAt, expiresAt }
  }

  async ofDog(dogId: string, now: Date): Promise<Invitation[]> {
    const rows = await this.#db
      .selectFrom('invitations')
      .selectAll()
      .where('dog_id', '=', dogId)
      .where('expires_at', '>', now.toISOString())
      .orderBy('created_at', 'desc')
      .execute()
    return rows.map((row) => ({
      id: row.id,
      role: row.role!,
      note: row.note,
      invitedBy: row.creator_name,
      createdAt: row.created_at,
      expiresAt: row.expires_at,
    }))
  }

  async withdraw(dogId: string, id: string, by: Author): Promise<boolean> {
    return this.#connection.together(({ run }) => {
      const one = this.#db.deleteFrom('invitations').where('id', '=', id).where('dog_id', '=', dogId)
      if (run(one.compile()) === 0) return false
      tellBoth(this.#db, run, by, { action: 'invitation.withdrawn', dogId })
      return true
    })
  }

  async find(secretHash: string, now: Date): Promise<FoundInvitation | null> {
    const row = this.#row(this.#connection, secretHash, now)
    if (!row) return null
    const { creator_name: invitedBy, expires_at: expiresAt } = row
    if (row.person_id !== null) return { kind: 'reset', personId: row.person_id, invitedBy, expiresAt }
    const dogName = row.dog_name!
    return { kind: 'role', dogId: row.dog_id!, dogName, role: row.role!, invitedBy, expiresAt }
  }

  async accept(secretHash: string, now: Date, person: NewPerson | { id: string }): Promise<boolean> {
    return this.#connection.together((step) => {
      const row = this.#row(step, secretHash, now)
      if (!row?.dog_id || !row.role) return false
      const { dog_id: dogId, role, creator_name: invitedBy } = row
      step.run(this.#db.deleteFrom('invitations').where('id', '=', row.id).compile())
      if ('passwordHash' in person) insertPerson(this.#db, step, person)
      const query = this.#db.selectFrom('people').select('name').where('id', '=', person.id)
      const by = { name: step.rows(query.compile())[0].name, personId: person.id }
      if ('passwordHash' in person) step.run(eventQuery(this.#db, by, { action: 'person.joined' }))
      const before = roleQuery(this.#db, step, dogId, person.id)
      if (before === null) step.run(roleInsert(this.#db, dogId, person.id, role))
      else if (ROLES.indexOf(role) < ROLES.indexOf(before)) {
        const one = this.#db.updateTable('roles').set({ role }).where('dog_id', '=', dogId)
        step.run(one.where('person_id', '=', person.id).compile())
      }
      tellBoth(this.#db, step.run, by, {
        action: 'invitation.accepted',
        dogId,
        detail: { role, invitedBy, ...(before !== null && { before }) },
      })
      return true
    })
  }

  async addReset(
    link: { id: string; personId: string; secretHash: string; expiresAt: string },
    by: Author,
  ): Promise<boolean> {
    return this.#connection.together(({ rows, run }) => {
      const { personId } = link
      const query = this.#db.selectFrom('people').select('name').where('id', '=', personId)
      const [person] = rows(query.compile())
      if (!person) return false
      run(this.#db.deleteFrom('invitations').where('person_id', '=', personId).compile())
      const row = {
        id: link.id,
        dog_id: null,
        role: null,
        person_id: personId,
        secret_hash: link.secretHash,
        note: null,
        created_by: by.personId,
        creator_name: by.name,
        created_at: new Date().toISOString(),
        expires_at: link.expiresAt,
      }
      run(this.#db.insertInto('invitations').values(row).compile())
      run(eventQuery(this.#db, by, { action: 'reset-link.made', detail: { person: person.name } }))
      return true
    })
  }

  async acceptReset(secretHash: string, now: Date, passwordHash: string): Promise<string | null> {
    return this.#connection.together((step) => {
      const id = this.#row(step, secretHash, now)?.person_id
      if (!id) return null
      const query = this.#db.selectFrom('people').select('name').where('id', '=', id)
      const by = { name: step.rows(query.compile())[0].name, personId: id }
      for (const statement of passwordQueries(this.#db, id, { passwordHash })) step.run(statement)
      step.run(eventQuery(this.#db, by, { action: 'password.reset' }))
      return id
    })
  }

  async removeOver(now: Date): Promise<void> {
    await this.#db.deleteFrom('invitations').where('expires_at', '<=', now.toISOString()).execute()
  }

  #row({ rows }: Pick<Step, 'rows'>, secretHash: string, now: Date) {
    const query = this.#db
      .selectFrom('invitations')
      .leftJoin('dogs', 'dogs.id', 'invitations.dog_id')
      .selectAll('invitations')
      .select('dogs.name as dog_name')
      .where('secret_hash', '=', secretHash)
      .where('expires_at', '>', now.toISOString())
    return rows(query.compile()).at(0)
  }
}
