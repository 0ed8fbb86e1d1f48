import type { Dog, DogChange } from '#protocol/resources'
import type { Author, Changed, Precondition } from '../changes.ts'
import { auditQuery, differences } from './audit.ts'
import type { Connection } from './connection.ts'
import { dogOf, dogQuery } from './dog-rows.ts'

/** What was said already changes nothing, and the version stays. */
export function changeDog(
  { db, together }: Connection,
  id: string,
  change: DogChange,
  precondition: Precondition,
  by: Author,
): Changed<Dog> {
  return together(({ rows, run }) => {
    const [row] = rows(dogQuery(db, id).compile())
    if (!row) return { kind: 'missing' }
    const before = dogOf(row)
    if (!precondition(before.version)) return { kind: 'other version', version: before.version }
    const detail = differences<Dog>(before, change)
    if (!detail) return { kind: 'changed', record: before }
    const after = { ...before, ...change, version: before.version + 1 }
    run(
      db
        .updateTable('dogs')
        .set({
          name: after.name,
          breed: after.breed,
          weight_kg: after.weightKg,
          withers_cm: after.withersCm,
          born_year: after.bornYear,
          notes: after.notes,
          version: after.version,
        })
        .where('id', '=', id)
        .compile(),
    )
    run(auditQuery(db, by, { dogId: id, action: 'dog.changed', detail }))
    return { kind: 'changed', record: after }
  })
}
