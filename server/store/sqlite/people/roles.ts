import { ROLES } from '#protocol/people'
import type { Person, Role } from '#protocol/people'
import type { Author } from '../../changes.ts'
import type { DogRole, RoleOutcome, RoleRecords } from '../../people/roles.ts'
import type { Connection, Step } from '../connection.ts'
import { tellBoth } from './security-events.ts'

export class SqliteRoles implements RoleRecords {
  readonly #connection: Connection
  readonly #db: Connection['db']

  constructor(connection: Connection) {
    this.#connection = connection
    this.#db = connection.db
  }

  async role(personId: string, dogId: string): Promise<Role | null> {
    const query = this.#db.selectFrom('roles').select('role').where('dog_id', '=', dogId)
    return (await query.where('person_id', '=', personId).executeTakeFirst())?.role ?? null
  }

  async dogOfSession(sessionId: string): Promise<string | null> {
    const query = this.#db.selectFrom('sessions').select('dog_id').where('id', '=', sessionId)
    return (await query.executeTakeFirst())?.dog_id ?? null
  }

  async ofDog(dogId: string): Promise<DogRole[]> {
    const rows = await this.#db
      .selectFrom('roles')
      .innerJoin('people', 'people.id', 'roles.person_id')
      .select(['person_id', 'people.name', 'sign_in_name', 'role', 'since'])
      .where('dog_id', '=', dogId)
      .orderBy('since')
      .execute()
    return rows
      .map((row) => ({
        personId: row.person_id,
        name: row.name,
        signInName: row.sign_in_name,
        role: row.role,
        since: row.since,
      }))
      .toSorted((a, b) => ROLES.indexOf(a.role) - ROLES.indexOf(b.role))
  }

  async dogsOfPeople(): Promise<ReadonlyMap<string, Person['dogs']>> {
    const rows = await this.#db
      .selectFrom('roles')
      .innerJoin('dogs', 'dogs.id', 'roles.dog_id')
      .select(['person_id', 'dog_id', 'dogs.name', 'role'])
      .orderBy('dogs.created_at')
      .execute()
    const byPerson = new Map<string, Person['dogs']>()
    for (const { person_id, dog_id, name, role } of rows) {
      const dogs = byPerson.get(person_id) ?? []
      byPerson.set(person_id, [...dogs, { dogId: dog_id, name, role }])
    }
    return byPerson
  }

  async change(dogId: string, personId: string, role: Role, by: Author): Promise<RoleOutcome> {
    return this.#connection.together((step) => {
      const before = roleQuery(this.#db, step, dogId, personId)
      if (before === null) return 'missing'
      if (before === role) return 'done'
      if (before === 'owner' && ownersOf(this.#db, step, dogId) === 1) return 'last owner'
      const one = this.#db.updateTable('roles').set({ role }).where('dog_id', '=', dogId)
      step.run(one.where('person_id', '=', personId).compile())
      endLinks(this.#db, step, dogId, personId, role)
      const detail = { person: nameOf(this.#db, step, personId), before, after: role }
      tellBoth(this.#db, step.run, by, { action: 'role.changed', dogId, detail })
      return 'done'
    })
  }

  async remove(dogId: string, personId: string, by: Author): Promise<RoleOutcome> {
    return this.#connection.together((step) => {
      const before = roleQuery(this.#db, step, dogId, personId)
      if (before === null) return 'missing'
      if (before === 'owner' && ownersOf(this.#db, step, dogId) === 1) return 'last owner'
      const one = this.#db.deleteFrom('roles').where('dog_id', '=', dogId)
      step.run(one.where('person_id', '=', personId).compile())
      endLinks(this.#db, step, dogId, personId, null)
      const detail = { person: nameOf(this.#db, step, personId), before }
      tellBoth(this.#db, step.run, by, { action: 'role.removed', dogId, detail })
      return 'done'
    })
  }
}

/** Ids of the dogs a person has any role with. */
export function dogsOfPerson(db: Connection['db'], personId: string) {
  return db.selectFrom('roles').select('roles.dog_id').where('roles.person_id', '=', personId)
}

/** Gives a role to somebody without one, as part of what `step` belongs to. */
export function roleInsert(db: Connection['db'], dogId: string, personId: string, role: Role) {
  const row = { dog_id: dogId, person_id: personId, role, since: new Date().toISOString() }
  return db.insertInto('roles').values(row).compile()
}

export function roleQuery(
  db: Connection['db'],
  { rows }: Step,
  dogId: string,
  personId: string,
): Role | null {
  const query = db.selectFrom('roles').select('role').where('dog_id', '=', dogId)
  return rows(query.where('person_id', '=', personId).compile())[0]?.role ?? null
}

function ownersOf(db: Connection['db'], { rows }: Step, dogId: string): number {
  const query = db.selectFrom('roles').select('person_id').where('dog_id', '=', dogId)
  return rows(query.where('role', '=', 'owner').compile()).length
}

function nameOf(db: Connection['db'], { rows }: Step, personId: string): string {
  return rows(db.selectFrom('people').select('name').where('id', '=', personId).compile())[0].name
}

/** What a person who may no longer make such links has made stops working with the role. */
function endLinks(db: Connection['db'], { run }: Step, dogId: string, personId: string, left: Role | null) {
  if (left === 'owner') return
  const invitations = db.deleteFrom('invitations').where('dog_id', '=', dogId)
  run(invitations.where('created_by', '=', personId).compile())
  if (left === 'therapist') return
  const now = new Date().toISOString()
  const shares = db.updateTable('shares').set({ revoked_at: now }).where('dog_id', '=', dogId)
  run(shares.where('created_by', '=', personId).where('revoked_at', 'is', null).compile())
}
