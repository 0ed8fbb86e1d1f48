import { randomUUID } from 'node:crypto'
import { sql } from 'kysely'
import type { Migration } from 'kysely'

/**
 * People, their roles with dogs, what lets them in, links that invite and share, and the trail of all that. Secrets
 * are kept as SHA-256 alone; that of a second factor is the exception, since its codes are made from it. Whoever had
 * this computer becomes the first person, and the owner of the dogs that are there.
 */
export const PEOPLE: Migration = {
  async up(db) {
    await sql`create table people (
      id text primary key,
      sign_in_name text not null,
      sign_in_key text not null unique,
      name text not null,
      keeper integer not null,
      password_hash text,
      factor_secret text,
      factor_confirmed integer not null default 0,
      factor_step integer not null default 0,
      locked_at text,
      created_at text not null,
      last_seen_at text
    ) strict`.execute(db)
    await sql`create table recovery_codes (
      person_id text not null references people (id) on delete cascade,
      code_hash text not null,
      primary key (person_id, code_hash)
    ) strict`.execute(db)
    await sql`create table roles (
      dog_id text not null references dogs (id) on delete cascade,
      person_id text not null references people (id) on delete cascade,
      role text not null,
      since text not null,
      primary key (dog_id, person_id)
    ) strict`.execute(db)
    await sql`create index roles_of_person on roles (person_id, dog_id)`.execute(db)
    await sql`create table invitations (
      id text primary key,
      dog_id text references dogs (id) on delete cascade,
      role text,
      person_id text references people (id) on delete cascade,
      secret_hash text not null unique,
      note text,
      created_by text references people (id) on delete cascade,
      creator_name text not null,
      created_at text not null,
      expires_at text not null,
      check ((dog_id is null) = (role is null)),
      check ((dog_id is null) <> (person_id is null))
    ) strict`.execute(db)
    await sql`create index invitations_of_dog on invitations (dog_id)`.execute(db)
    await sql`create table shares (
      id text primary key,
      dog_id text not null references dogs (id) on delete cascade,
      kind text not null,
      session_id text references sessions (id) on delete cascade,
      from_day text,
      to_day text,
      questions text,
      secret_hash text not null unique,
      created_by text references people (id) on delete cascade,
      creator_name text not null,
      created_at text not null,
      expires_at text not null,
      revoked_at text,
      opened integer not null default 0,
      last_opened_at text
    ) strict`.execute(db)
    await sql`create index shares_of_dog on shares (dog_id)`.execute(db)
    await sql`create index shares_of_session on shares (session_id)`.execute(db)
    await sql`create table passes (
      hash text primary key,
      id text not null unique,
      kind text not null,
      person_id text references people (id) on delete cascade,
      share_id text references shares (id) on delete cascade,
      session_id text references sessions (id) on delete cascade,
      device text not null,
      created_at_ms integer not null,
      last_seen_at_ms integer not null,
      expires_at_ms integer not null
    ) strict`.execute(db)
    await sql`create index passes_of_person on passes (person_id)`.execute(db)
    await sql`create index passes_of_share on passes (share_id)`.execute(db)
    await sql`create index passes_of_session on passes (session_id)`.execute(db)
    // Of a dog that is gone its id stays, and no word of it: dog_id refers to nothing.
    await sql`create table security_events (
      seq integer primary key,
      at text not null,
      actor text not null,
      actor_id text,
      action text not null,
      dog_id text,
      detail text not null
    ) strict`.execute(db)
    await sql`alter table audit add column actor_id text references people (id) on delete set null`.execute(
      db,
    )

    const id = randomUUID()
    const now = new Date().toISOString()
    await sql`insert into people (id, sign_in_name, sign_in_key, name, keeper, created_at)
      values (${id}, 'owner', 'owner', 'Owner', 1, ${now})`.execute(db)
    await sql`insert into roles (dog_id, person_id, role, since)
      select id, ${id}, 'owner', ${now} from dogs`.execute(db)
  },
}
