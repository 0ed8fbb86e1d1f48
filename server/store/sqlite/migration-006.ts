import { sql } from 'kysely'
import type { Migration } from 'kysely'

/**
 * Where the samples of a stream lie in InfluxDB, what it refused, and what it has still to delete. All of it is empty
 * while samples are in the embedded store only.
 *
 * Whatever removes a stream removes its place, and with it, in the same transaction, orders the deletion there.
 */
export const SERIES_PLACES: Migration = {
  async up(db) {
    await sql`create table series_places (
      stream_id text primary key references streams (id) on delete cascade,
      dog_id text not null,
      slot integer not null,
      base_us integer not null,
      period_us real not null,
      end_us integer not null
    ) strict`.execute(db)
    await sql`create index series_places_of_dog on series_places (dog_id, slot, base_us)`.execute(db)
    await sql`create table series_refusals (
      stream_id text primary key references streams (id) on delete cascade,
      reason text not null,
      at text not null
    ) strict`.execute(db)
    await sql`create table series_deletions (
      id integer primary key,
      dog_id text not null,
      slot integer not null,
      from_us integer not null,
      to_us integer not null
    ) strict`.execute(db)
    await sql`create trigger series_place_removed after delete on series_places begin
      insert into series_deletions (dog_id, slot, from_us, to_us)
        values (old.dog_id, old.slot, old.base_us, old.end_us);
    end`.execute(db)
    // A stream that has ended needs no room to grow into.
    await sql`create trigger series_place_ended after update of complete on streams when new.complete = 1 begin
      update series_places set end_us = base_us + cast(new.next_index * period_us as integer) + 1
        where stream_id = new.id;
    end`.execute(db)
  },
}
