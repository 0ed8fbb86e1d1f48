import type { Database as SqliteDatabase } from 'better-sqlite3'

/** A dog whose owner cannot be told (written by a program of before, or restored) falls to the first person. */
export function adoptOwnerless(raw: SqliteDatabase): void {
  raw
    .prepare(
      `insert into roles (dog_id, person_id, role, since)
       select dogs.id, people.id, 'owner', ? from dogs, people
       where keeper = 1 and not exists (select 1 from roles where dog_id = dogs.id and role = 'owner')
       on conflict (dog_id, person_id) do update set role = 'owner'`,
    )
    .run(new Date().toISOString())
}
