import { sql } from 'kysely'
import type { Migration } from 'kysely'

/**
 * The programme around the recording: diary, notes on repetitions, corrected holds, exclusions, trend settings,
 * the audit trail, versions for optimistic concurrency, and the figures trends are made of. Everything added may
 * be missing in what was stored before; figures that its report holds are taken from there.
 */
export const PROGRAMME: Migration = {
  async up(db) {
    await sql`alter table dogs add column version integer not null default 1`.execute(db)
    await sql`alter table dogs add column born_year integer`.execute(db)

    await sql`alter table sessions add column version integer not null default 1`.execute(db)
    await sql`alter table sessions add column edits_version integer not null default 1`.execute(db)
    await sql`alter table sessions add column height_cm real`.execute(db)
    await sql`alter table sessions add column firmness text`.execute(db)
    await sql`alter table sessions add column unstable integer`.execute(db)
    await sql`alter table sessions add column set_up_confirmed_at text`.execute(db)
    await sql`alter table sessions add column notes text`.execute(db)
    await sql`alter table sessions add column excluded_reason text`.execute(db)
    await sql`alter table sessions add column excluded_at text`.execute(db)
    await sql`alter table sessions add column repetitions integer`.execute(db)
    await sql`alter table sessions add column support_share real`.execute(db)
    await sql`alter table sessions add column fatigue_ratio real`.execute(db)
    await sql`alter table sessions add column plan_warnings integer`.execute(db)
    await sql`alter table sessions add column comparable_path_rate real`.execute(db)
    await sql`alter table sessions add column comparable_jerk real`.execute(db)
    await sql`alter table sessions add column comparable_ratio real`.execute(db)
    await sql`alter table sessions add column comparable_weak integer`.execute(db)
    await sql`alter table sessions add column comparable_basis text`.execute(db)
    await sql`alter table sessions add column look_alike integer`.execute(db)
    await sql`update sessions set
        repetitions = (select count(*) from json_each(r.report, '$.session.repetitions')
          where coalesce(json_extract(value, '$.holdS'), 0) > 0),
        support_share = json_extract(r.report, '$.session.supportShare'),
        fatigue_ratio = json_extract(r.report, '$.session.fatigue.lastOverFirst'),
        plan_warnings = json_array_length(r.report, '$.session.planWarnings'),
        comparable_path_rate = json_extract(r.report, '$.session.comparable.pathRate'),
        comparable_jerk = json_extract(r.report, '$.session.comparable.jerk'),
        comparable_weak = json_extract(r.report, '$.session.comparable.weak'),
        comparable_basis = json_extract(r.report, '$.session.comparable.basis'),
        look_alike = exists (select 1 from json_each(r.report, '$.holds')
          where json_extract(value, '$.role') = 'exercise'
            and json_extract(value, '$.tremor.bands[0].lookalike') is not null)
      from reports r where r.session_id = sessions.id`.execute(db)

    // The words of the glossary: an ordinary morning is "normal".
    await sql`update check_ins set answer = 'normal' where answer = 'fine'`.execute(db)
    await sql`alter table sessions add column check_in_version integer not null default 0`.execute(db)
    await sql`alter table check_ins add column version integer not null default 1`.execute(db)

    await sql`create table repetition_notes (
      session_id text not null references sessions (id) on delete cascade,
      id text not null,
      at_s real not null,
      stance text,
      signs text not null,
      note text,
      version integer not null,
      updated_at text not null,
      primary key (session_id, id)
    ) strict`.execute(db)
    await sql`create table hold_edits (
      session_id text not null references sessions (id) on delete cascade,
      id text not null,
      kind text not null,
      from_s real not null,
      to_s real not null,
      reason text,
      primary key (session_id, id)
    ) strict`.execute(db)
    await sql`create table diary_entries (
      id text primary key,
      dog_id text not null references dogs (id) on delete cascade,
      kind text not null,
      from_date text not null,
      until_date text,
      title text not null,
      dose text,
      note text,
      version integer not null,
      created_at text not null,
      updated_at text not null
    ) strict`.execute(db)
    await sql`create index diary_of_dog on diary_entries (dog_id, from_date desc, id)`.execute(db)
    await sql`create table trend_settings (
      dog_id text primary key references dogs (id) on delete cascade,
      settings text not null,
      version integer not null
    ) strict`.execute(db)
    await sql`create table audit (
      seq integer primary key,
      at text not null,
      dog_id text not null references dogs (id) on delete cascade,
      session_id text,
      actor text not null,
      action text not null,
      detail text not null
    ) strict`.execute(db)
    await sql`create index audit_of_dog on audit (dog_id, seq desc)`.execute(db)
  },
}
