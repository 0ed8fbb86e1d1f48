import type { Insertable } from 'kysely'
import type { Report } from '#signal/report-types'
import type { SampleColumns, Arrival } from '../time-series.ts'
import type { DogArchive, SessionArchive, StoredAnalysis } from '../archives.ts'
import { analysisQueries } from './analysis-rows.ts'
import { encodeArrivals } from './arrivals-codec.ts'
import { encodeDeflated } from './block-codec.ts'
import type { Connection } from './connection.ts'
import type { SessionsTable } from './schema.ts'
import { setUpColumns } from './session-rows.ts'

/** Rows of an archive into an empty store that nobody else uses. */
export class ArchiveWriter {
  readonly #connection: Connection

  constructor(connection: Connection) {
    this.#connection = connection
  }

  async addDog({ dog, plans, diary, trendSettings }: Omit<DogArchive, 'sessions' | 'audit'>): Promise<void> {
    const { db, atomically } = this.#connection
    const dogId = dog.id
    const queries = [
      db.insertInto('dogs').values({
        id: dogId,
        name: dog.name,
        breed: dog.breed,
        weight_kg: dog.weightKg,
        withers_cm: dog.withersCm,
        born_year: dog.bornYear,
        notes: dog.notes,
        demo: dog.demo ? 1 : 0,
        created_at: dog.createdAt,
        version: dog.version,
      }),
      ...plans.map(({ version, createdAt, plan }) =>
        db
          .insertInto('plans')
          .values({ dog_id: dogId, version, plan: JSON.stringify(plan), created_at: createdAt }),
      ),
      ...diary.map((entry) =>
        db.insertInto('diary_entries').values({
          id: entry.id,
          dog_id: dogId,
          kind: entry.kind,
          from_date: entry.fromDate,
          until_date: entry.untilDate,
          title: entry.title,
          dose: entry.dose,
          note: entry.note,
          version: entry.version,
          created_at: entry.createdAt,
          updated_at: entry.updatedAt,
        }),
      ),
      ...(trendSettings
        ? [
            db.insertInto('trend_settings').values({
              dog_id: dogId,
              settings: JSON.stringify(trendSettings.settings),
              version: trendSettings.version,
            }),
          ]
        : []),
    ]
    atomically(queries.map((query) => query.compile()))
  }

  /** After those that were added before. */
  addAudit(dogId: string, audit: DogArchive['audit']): void {
    const { db, atomically } = this.#connection
    const queries = audit.map((entry) =>
      db.insertInto('audit').values({
        at: entry.at,
        dog_id: dogId,
        session_id: entry.sessionId,
        actor: entry.actor,
        action: entry.action,
        detail: JSON.stringify(entry.detail),
      }),
    )
    atomically(queries.map((query) => query.compile()))
  }

  async addSession(
    dogId: string,
    { session, edits, repetitionNotes, stream }: Omit<SessionArchive, 'analysis'>,
  ): Promise<void> {
    const { db, atomically } = this.#connection
    const { id, checkIn } = session
    const queries = [
      db.insertInto('sessions').values(sessionRow(dogId, session, edits.version)),
      ...(checkIn ? [db.insertInto('check_ins').values({ session_id: id, ...checkIn })] : []),
      ...edits.marks.map(({ id: markId, atS, kind, note }) =>
        db.insertInto('marks').values({ session_id: id, id: markId, at_s: atS, kind, note }),
      ),
      ...edits.holds.map(({ id: editId, kind, fromS, toS, reason }) =>
        db
          .insertInto('hold_edits')
          .values({ session_id: id, id: editId, kind, from_s: fromS, to_s: toS, reason }),
      ),
      ...repetitionNotes.map((note) =>
        db.insertInto('repetition_notes').values({
          session_id: id,
          id: note.id,
          at_s: note.atS,
          stance: note.stance,
          signs: JSON.stringify(note.signs),
          note: note.note,
          version: note.version,
          updated_at: note.updatedAt,
        }),
      ),
      ...(stream
        ? [
            db.insertInto('streams').values({
              id: stream.id,
              session_id: id,
              kind: stream.kind,
              columns: stream.columns.join(','),
              rate_hz: stream.rateHz,
              started_at_us: stream.startedAtUs,
              resolution_ms2: stream.resolutionMs2,
              source: stream.source && JSON.stringify(stream.source),
              next_index: stream.nextIndex,
              complete: stream.complete ? 1 : 0,
            }),
            ...stream.lost.map(({ firstIndex, count }) =>
              db.insertInto('lost_ranges').values({ stream_id: stream.id, first_index: firstIndex, count }),
            ),
          ]
        : []),
    ]
    atomically(queries.map((query) => query.compile()))
  }

  /** Figures of lists and trends are taken from the report, as when it was made. */
  addAnalysis(session: SessionArchive['session'], { report, timeline, holds }: StoredAnalysis): void {
    const { db, atomically } = this.#connection
    const analysis = {
      report,
      timeline,
      holds: holds.map((detail, index) => ({ measured: (report as Report).holds[index], detail })),
    }
    const { state, problem, rateHz, timeScale } = session
    atomically([
      ...analysisQueries(db, session.id, analysis),
      db
        .updateTable('sessions')
        .set({ state, problem, rate_hz: rateHz, time_scale: timeScale })
        .where('id', '=', session.id)
        .compile(),
    ])
  }

  addBlock(stream: string, firstIndex: number, columns: SampleColumns, arrivals: readonly Arrival[]): void {
    const { raw } = this.#connection
    const block = encodeDeflated(columns)
    raw
      .prepare(
        `insert into sample_blocks
           (stream_id, first_index, count, dtype, encoding, columns, crc32, arrived_at_us, arrivals)
         values (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
      )
      .run(
        stream,
        firstIndex,
        columns.values[0].length,
        block.dtype,
        block.encoding,
        block.columns,
        block.crc32,
        arrivals.at(-1)?.arrivedAtUs ?? null,
        encodeArrivals(firstIndex, arrivals),
      )
  }
}

function sessionRow(
  dogId: string,
  session: SessionArchive['session'],
  editsVersion: number,
): Insertable<SessionsTable> {
  return {
    id: session.id,
    dog_id: dogId,
    sensor: session.sensor,
    file_name: session.fileName,
    content_hash: session.contentHash,
    ...setUpColumns(session.setUp),
    set_up_confirmed_at: session.setUpConfirmedAt,
    mount: session.mount,
    state: session.state,
    problem: session.problem,
    started_at_us: session.startedAtUs,
    created_at: session.createdAt,
    ordered_at_us: session.startedAtUs ?? Date.parse(session.createdAt) * 1000,
    plan_version: session.planned?.planVersion ?? null,
    plan_exercise_id: session.planned?.exerciseId ?? null,
    sensor_description: session.sensorDescription ? JSON.stringify(session.sensorDescription) : null,
    notes: session.notes,
    excluded_reason: session.excluded?.reason ?? null,
    excluded_at: session.excluded?.at ?? null,
    time_scale: session.timeScale,
    rate_hz: session.rateHz,
    version: session.version,
    edits_version: editsVersion,
    check_in_version: session.removedCheckInVersion ?? 0,
  }
}
