import type { Database as SqliteDatabase } from 'better-sqlite3'
import { sql } from 'kysely'
import type { Migration } from 'kysely'
import { PLANS_AND_ARRIVALS } from './migration-002.ts'
import { ARRIVALS_OF_BLOCKS } from './migration-003.ts'
import { PROGRAMME } from './migration-004.ts'
import { PEOPLE } from './migration-005.ts'
import { SERIES_PLACES } from './migration-006.ts'

/** Applied in the order of their names, once each. A released migration never changes: add the next number. */
export const MIGRATIONS: Record<string, Migration> = {
  '001-first': {
    async up(db) {
      await sql`create table dogs (
        id text primary key,
        name text not null,
        breed text,
        weight_kg real,
        withers_cm real,
        notes text,
        demo integer not null,
        created_at text not null
      ) strict`.execute(db)
      await sql`create table sessions (
        id text primary key,
        dog_id text not null references dogs (id) on delete cascade,
        sensor text not null,
        file_name text,
        content_hash text,
        exercise text,
        surface text,
        mount text not null,
        state text not null,
        started_at_us integer,
        created_at text not null,
        ordered_at_us integer not null,
        duration_s real,
        rate_hz real,
        verdict text,
        holds integer,
        hold_s real,
        hands_off_hold_s real,
        best_hold_s real,
        sway_ms2 real,
        tremor_ms2 real,
        comparable_sway_ms2 real,
        comparable_tremor_ms2 real,
        analysis_version text,
        problem text,
        unique (dog_id, content_hash)
      ) strict`.execute(db)
      await sql`create index sessions_newest on sessions (ordered_at_us desc, id desc)`.execute(db)
      await sql`create index sessions_of_dog on sessions (dog_id, ordered_at_us desc, id desc)`.execute(db)
      await sql`create table streams (
        id text primary key,
        session_id text not null unique references sessions (id) on delete cascade,
        kind text not null,
        columns text not null,
        rate_hz real not null,
        started_at_us integer,
        resolution_ms2 real,
        source text,
        next_index integer not null default 0,
        complete integer not null default 0
      ) strict`.execute(db)
      await sql`create table sample_blocks (
        stream_id text not null references streams (id) on delete cascade,
        first_index integer not null,
        count integer not null,
        dtype text not null,
        encoding text not null,
        columns blob not null,
        crc32 integer not null,
        primary key (stream_id, first_index)
      ) strict`.execute(db)
      await sql`create table lost_ranges (
        stream_id text not null references streams (id) on delete cascade,
        first_index integer not null,
        count integer not null,
        primary key (stream_id, first_index)
      ) strict`.execute(db)
      await sql`create table marks (
        seq integer primary key,
        session_id text not null references sessions (id) on delete cascade,
        id text not null,
        at_s real not null,
        kind text not null,
        note text,
        unique (session_id, id)
      ) strict`.execute(db)
      await sql`create table reports (
        session_id text primary key references sessions (id) on delete cascade,
        report text not null,
        timeline text not null,
        analysis_version text not null,
        created_at text not null
      ) strict`.execute(db)
      await sql`create table holds (
        session_id text not null references sessions (id) on delete cascade,
        hold_index integer not null,
        from_s real not null,
        to_s real not null,
        hands_off_s real,
        ended_by text not null,
        sway_ms2 real not null,
        tremor_ms2 real,
        detail text not null,
        primary key (session_id, hold_index)
      ) strict`.execute(db)
    },
  },
  '002-plans-and-arrivals': PLANS_AND_ARRIVALS,
  '003-arrivals-of-blocks': ARRIVALS_OF_BLOCKS,
  '004-programme': PROGRAMME,
  '005-people': PEOPLE,
  '006-series-places': SERIES_PLACES,
}

/** Names of what was applied to a database, in order; none for an empty one. */
export function appliedMigrations(raw: SqliteDatabase): string[] {
  const tables = raw.prepare("select 1 from sqlite_master where name = 'kysely_migration'").all()
  if (tables.length === 0) return []
  return raw.prepare<[], string>('select name from kysely_migration order by name').pluck().all()
}
