import type { CompiledQuery, Selectable } from 'kysely'
import type { NewPerson } from '../../people/invitations.ts'
import { SignInNameTakenError, signInKey } from '../../people/people.ts'
import type { Names, PasswordChange, PersonRecord } from '../../people/people.ts'
import type { Connection, Step } from '../connection.ts'
import type { PeopleTable } from './people-schema.ts'

/** @throws {SignInNameTakenError} */
export function insertPerson(db: Connection['db'], step: Step, person: NewPerson): void {
  requireFree(db, step, person.signInName, person.id)
  const row = {
    id: person.id,
    sign_in_name: person.signInName.trim(),
    sign_in_key: signInKey(person.signInName),
    name: person.name.trim(),
    keeper: 0 as const,
    password_hash: person.passwordHash,
    created_at: new Date().toISOString(),
  }
  step.run(db.insertInto('people').values(row).compile())
}

/** @throws {SignInNameTakenError} when somebody else has the name */
export function requireFree(db: Connection['db'], { rows }: Step, signInName: string, id: string): void {
  const key = signInKey(signInName)
  const query = db.selectFrom('people').select('id').where('sign_in_key', '=', key).where('id', '<>', id)
  if (rows(query.compile()).length > 0) throw new SignInNameTakenError('this sign-in name is taken')
}

export function nameColumns({ signInName, name }: Names) {
  return {
    ...(signInName !== undefined && {
      sign_in_name: signInName.trim(),
      sign_in_key: signInKey(signInName),
    }),
    ...(name !== undefined && { name: name.trim() }),
  }
}

/** A new password ends what the old one let in, and the links that would set yet another. */
export function passwordQueries(
  db: Connection['db'],
  id: string,
  { passwordHash, keep, ...names }: PasswordChange,
): CompiledQuery[] {
  const passes = db.deleteFrom('passes').where('person_id', '=', id).where('kind', '=', 'sign-in')
  return [
    db
      .updateTable('people')
      .set({ password_hash: passwordHash, ...nameColumns(names) })
      .where('id', '=', id)
      .compile(),
    (keep === undefined ? passes : passes.where('hash', '<>', keep)).compile(),
    db.deleteFrom('invitations').where('person_id', '=', id).compile(),
  ]
}

export function personOf(row: Selectable<PeopleTable>): PersonRecord {
  return {
    id: row.id,
    signInName: row.sign_in_name,
    name: row.name,
    keeper: row.keeper === 1,
    passwordHash: row.password_hash,
    secondFactor:
      row.factor_secret === null
        ? null
        : { secret: row.factor_secret, confirmed: row.factor_confirmed === 1 },
    lockedAt: row.locked_at,
    createdAt: row.created_at,
    lastSeenAt: row.last_seen_at,
  }
}
