import { sql } from 'kysely'
import type { Migration } from 'kysely'

/**
 * Plans, check-ins, what a session follows and was recorded with, spacing of set-ups, and when each
 * block of samples arrived. Everything added may be missing in what was stored before.
 */
export const PLANS_AND_ARRIVALS: Migration = {
  async up(db) {
    await sql`create table plans (
      dog_id text not null references dogs (id) on delete cascade,
      version integer not null,
      plan text not null,
      created_at text not null,
      primary key (dog_id, version)
    ) strict`.execute(db)
    await sql`create table check_ins (
      session_id text primary key references sessions (id) on delete cascade,
      answer text not null,
      note text,
      at text not null
    ) strict`.execute(db)
    await sql`alter table sessions add column fore_to_hind_cm real`.execute(db)
    await sql`alter table sessions add column left_to_right_cm real`.execute(db)
    await sql`alter table sessions add column plan_version integer`.execute(db)
    await sql`alter table sessions add column plan_exercise_id text`.execute(db)
    await sql`alter table sessions add column sensor_description text`.execute(db)
    // Seconds of the report per nominal second of a live stream; null where both are the same.
    await sql`alter table sessions add column time_scale real`.execute(db)
    // UTC µs at which the last sample of the block reached the sender; real, since senders say anything.
    await sql`alter table sample_blocks add column arrived_at_us real`.execute(db)
  },
}
