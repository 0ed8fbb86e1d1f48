import type { Insertable, Selectable } from 'kysely'
import type { Dog, NewDog } from '#protocol/resources'
import type { Connection } from './connection.ts'
import type { DogsTable } from './schema.ts'

export function dogRow(dog: NewDog & { id: string }): Insertable<DogsTable> {
  return {
    id: dog.id,
    name: dog.name,
    breed: dog.breed ?? null,
    weight_kg: dog.weightKg ?? null,
    withers_cm: dog.withersCm ?? null,
    notes: dog.notes ?? null,
    demo: dog.demo ? 1 : 0,
    born_year: dog.bornYear ?? null,
    created_at: new Date().toISOString(),
  }
}

/** All dogs, or the one asked for, with the number of their sessions, oldest first. */
export function dogQuery(db: Connection['db'], id?: string) {
  return db
    .selectFrom('dogs')
    .selectAll()
    .select((eb) =>
      eb
        .selectFrom('sessions')
        .select((count) => count.fn.countAll<number>().as('n'))
        .whereRef('sessions.dog_id', '=', 'dogs.id')
        .as('sessions'),
    )
    .$if(id !== undefined, (query) => query.where('id', '=', id!))
    .orderBy('created_at')
    .orderBy('id')
}

export function dogOf(row: Selectable<DogsTable> & { sessions: number | null }): Dog {
  return {
    id: row.id,
    name: row.name,
    breed: row.breed,
    weightKg: row.weight_kg,
    withersCm: row.withers_cm,
    bornYear: row.born_year,
    notes: row.notes,
    demo: row.demo === 1,
    createdAt: row.created_at,
    sessions: row.sessions ?? 0,
    version: row.version,
  }
}
