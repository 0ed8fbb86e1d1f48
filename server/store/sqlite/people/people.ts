import type { Author } from '../../changes.ts'
import { signInKey } from '../../people/people.ts'
import type { Names, PasswordChange, People, PersonRecord } from '../../people/people.ts'
import type { Connection } from '../connection.ts'
import { SqliteInvitations } from './invitations.ts'
import { SqlitePasses } from './passes.ts'
import { nameColumns, passwordQueries, personOf, requireFree } from './people-queries.ts'
import { SqliteRoles } from './roles.ts'
import { SqliteSecurityEvents, eventQuery } from './security-events.ts'
import { SqliteShares } from './shares.ts'

export class SqlitePeople implements People {
  readonly roles: SqliteRoles
  readonly passes: SqlitePasses
  readonly invitations: SqliteInvitations
  readonly shares: SqliteShares
  readonly events: SqliteSecurityEvents
  readonly #connection: Connection
  readonly #db: Connection['db']

  constructor(connection: Connection) {
    this.#connection = connection
    this.#db = connection.db
    this.roles = new SqliteRoles(connection)
    this.passes = new SqlitePasses(connection)
    this.invitations = new SqliteInvitations(connection)
    this.shares = new SqliteShares(connection)
    this.events = new SqliteSecurityEvents(connection)
  }

  async hasPassword(): Promise<boolean> {
    return (await this.keeper()).passwordHash !== null
  }

  async keeper(): Promise<PersonRecord> {
    const query = this.#db.selectFrom('people').selectAll().where('keeper', '=', 1)
    return personOf(await query.executeTakeFirstOrThrow())
  }

  async person(id: string): Promise<PersonRecord | null> {
    const query = this.#db.selectFrom('people').selectAll().where('id', '=', id)
    const row = await query.executeTakeFirst()
    return row ? personOf(row) : null
  }

  async named(signInName: string): Promise<PersonRecord | null> {
    const query = this.#db.selectFrom('people').selectAll().where('sign_in_key', '=', signInKey(signInName))
    const row = await query.executeTakeFirst()
    return row ? personOf(row) : null
  }

  async all(): Promise<PersonRecord[]> {
    const query = this.#db.selectFrom('people').selectAll().orderBy('keeper', 'desc').orderBy('created_at')
    return (await query.execute()).map(personOf)
  }

  async rename(id: string, names: Names, by: Author): Promise<boolean> {
    return this.#connection.together((step) => {
      if (names.signInName !== undefined) requireFree(this.#db, step, names.signInName, id)
      const one = this.#db.updateTable('people').set(nameColumns(names)).where('id', '=', id)
      if (step.run(one.compile()) === 0) return false
      step.run(eventQuery(this.#db, by, { action: 'person.renamed', detail: names }))
      return true
    })
  }

  async setPassword(id: string, change: PasswordChange, by: Author): Promise<boolean> {
    return this.#connection.together((step) => {
      if (change.signInName !== undefined) requireFree(this.#db, step, change.signInName, id)
      const [first, ...others] = passwordQueries(this.#db, id, change)
      if (step.run(first) === 0) return false
      for (const query of others) step.run(query)
      const query = this.#db.selectFrom('people').select('name').where('id', '=', id)
      const [{ name: person }] = step.rows(query.compile())
      const detail = by.personId === id ? {} : { person }
      step.run(eventQuery(this.#db, by, { action: 'password.set', detail }))
      return true
    })
  }

  async offerSecondFactor(id: string, secret: string): Promise<boolean> {
    const { numUpdatedRows } = await this.#db
      .updateTable('people')
      .set({ factor_secret: secret, factor_step: 0 })
      .where('id', '=', id)
      .where('factor_confirmed', '=', 0)
      .executeTakeFirst()
    return numUpdatedRows > 0n
  }

  async confirmSecondFactor(
    id: string,
    step: number,
    codeHashes: readonly string[],
    by: Author,
  ): Promise<boolean> {
    return this.#connection.together(({ run }) => {
      const one = this.#db
        .updateTable('people')
        .set({ factor_confirmed: 1, factor_step: step })
        .where('id', '=', id)
        .where('factor_secret', 'is not', null)
        .where('factor_confirmed', '=', 0)
        .where('factor_step', '<', step)
      if (run(one.compile()) === 0) return false
      run(this.#db.deleteFrom('recovery_codes').where('person_id', '=', id).compile())
      const codes = codeHashes.map((hash) => ({ person_id: id, code_hash: hash }))
      run(this.#db.insertInto('recovery_codes').values(codes).compile())
      run(eventQuery(this.#db, by, { action: 'second-factor.set' }))
      return true
    })
  }

  async useStep(id: string, step: number): Promise<boolean> {
    const { numUpdatedRows } = await this.#db
      .updateTable('people')
      .set({ factor_step: step })
      .where('id', '=', id)
      .where('factor_step', '<', step)
      .executeTakeFirst()
    return numUpdatedRows > 0n
  }

  async useRecoveryCode(id: string, codeHash: string, by: Author): Promise<boolean> {
    return this.#connection.together(({ rows, run }) => {
      const codes = this.#db.deleteFrom('recovery_codes').where('person_id', '=', id)
      if (run(codes.where('code_hash', '=', codeHash).compile()) === 0) return false
      const query = this.#db.selectFrom('recovery_codes').select('code_hash').where('person_id', '=', id)
      const left = rows(query.compile()).length
      run(eventQuery(this.#db, by, { action: 'recovery-code.used', detail: { left } }))
      return true
    })
  }

  async removeSecondFactor(id: string, by: Author): Promise<boolean> {
    return this.#connection.together(({ run }) => {
      const one = this.#db
        .updateTable('people')
        .set({ factor_secret: null, factor_confirmed: 0, factor_step: 0 })
        .where('id', '=', id)
        .where('factor_secret', 'is not', null)
      if (run(one.compile()) === 0) return false
      run(this.#db.deleteFrom('recovery_codes').where('person_id', '=', id).compile())
      run(eventQuery(this.#db, by, { action: 'second-factor.removed' }))
      return true
    })
  }

  async setLocked(id: string, locked: boolean, by: Author): Promise<boolean> {
    return this.#connection.together(({ rows, run }) => {
      const one = this.#db
        .updateTable('people')
        .set({ locked_at: locked ? new Date().toISOString() : null })
        .where('id', '=', id)
        .where('locked_at', locked ? 'is' : 'is not', null)
      if (run(one.compile()) === 0) return false
      if (locked) run(this.#db.deleteFrom('passes').where('person_id', '=', id).compile())
      const [{ name }] = rows(this.#db.selectFrom('people').select('name').where('id', '=', id).compile())
      const action = locked ? 'person.locked' : 'person.unlocked'
      run(eventQuery(this.#db, by, { action, detail: { person: name } }))
      return true
    })
  }

  async remove(id: string, by: Author): Promise<'removed' | 'missing' | 'last owner'> {
    return this.#connection.together(({ rows, run }) => {
      const query = this.#db.selectFrom('people').select('name').where('id', '=', id)
      const [person] = rows(query.compile())
      if (!person) return 'missing'
      const alone = this.#db
        .selectFrom('roles as own')
        .select('own.dog_id')
        .where('own.person_id', '=', id)
        .where('own.role', '=', 'owner')
        .where((eb) =>
          eb.not(
            eb.exists(
              eb
                .selectFrom('roles as other')
                .select('other.dog_id')
                .whereRef('other.dog_id', '=', 'own.dog_id')
                .where('other.role', '=', 'owner')
                .where('other.person_id', '<>', id),
            ),
          ),
        )
      if (rows(alone.compile()).length > 0) return 'last owner'
      run(this.#db.deleteFrom('people').where('id', '=', id).compile())
      run(eventQuery(this.#db, by, { action: 'person.removed', detail: { person: person.name } }))
      return 'removed'
    })
  }
}
