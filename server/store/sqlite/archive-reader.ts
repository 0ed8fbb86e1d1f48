import type { Database as SqliteDatabase } from 'better-sqlite3'
import type {
  DiaryFile,
  EditsFile,
  RepetitionNotesFile,
  SessionFile,
  StreamFile,
} from '../../export/archive-files.ts'
import type { DogArchive, SessionArchive, StoredAnalysis } from '../archives.ts'
import type {
  AuditTable,
  CheckInsTable,
  DiaryEntriesTable,
  DogsTable,
  HoldEditsTable,
  HoldsTable,
  LostRangesTable,
  MarksTable,
  PlansTable,
  RepetitionNotesTable,
  ReportsTable,
  SampleBlocksTable,
  SessionsTable,
  StreamsTable,
  TrendSettingsTable,
} from './schema.ts'
import { setUpOf } from './session-rows.ts'
import type { Selectable } from 'kysely'

type Row<Table> = Selectable<Table>

/** A dog's rows as its archive tells them. */
export function readDog(raw: SqliteDatabase, dogId: string): DogArchive | null {
  const dog = one<DogsTable>(raw, 'select * from dogs where id = ?', dogId)
  if (!dog) return null
  const plans = all<PlansTable>(raw, 'select * from plans where dog_id = ? order by version', dogId)
  const diary = all<DiaryEntriesTable>(
    raw,
    'select * from diary_entries where dog_id = ? order by from_date, id',
    dogId,
  )
  const settings = one<TrendSettingsTable>(raw, 'select * from trend_settings where dog_id = ?', dogId)
  const audit = all<AuditTable>(raw, 'select * from audit where dog_id = ? order by seq', dogId)
  return {
    dog: {
      id: dog.id,
      name: dog.name,
      breed: dog.breed,
      weightKg: dog.weight_kg,
      withersCm: dog.withers_cm,
      bornYear: dog.born_year,
      notes: dog.notes,
      demo: dog.demo === 1,
      createdAt: dog.created_at,
      version: dog.version,
    },
    plans: plans.map((row) => ({
      version: row.version,
      createdAt: row.created_at,
      plan: JSON.parse(row.plan),
    })),
    diary: diary.map(diaryEntry),
    trendSettings: settings ? { version: settings.version, settings: JSON.parse(settings.settings) } : null,
    audit: audit.map((row) => ({
      at: row.at,
      sessionId: row.session_id,
      actor: row.actor,
      action: row.action,
      detail: JSON.parse(row.detail),
    })),
    sessions: all<Pick<SessionsTable, 'id' | 'state'>>(
      raw,
      'select id, state from sessions where dog_id = ? order by id',
      dogId,
    ),
  }
}

/** A session's rows; null unless it is finished or failed. */
export function readSession(raw: SqliteDatabase, sessionId: string): SessionArchive | null {
  const row = one<SessionsTable>(raw, 'select * from sessions where id = ?', sessionId)
  if (!row || (row.state !== 'finished' && row.state !== 'failed')) return null
  const checkIn = one<CheckInsTable>(raw, 'select * from check_ins where session_id = ?', sessionId)
  return {
    session: sessionFile(row, row.state, checkIn),
    edits: editsOf(raw, sessionId, row.edits_version),
    repetitionNotes: all<RepetitionNotesTable>(
      raw,
      'select * from repetition_notes where session_id = ? order by at_s, id',
      sessionId,
    ).map(repetitionNote),
    analysis: analysisOf(raw, sessionId),
    stream: streamOf(raw, sessionId),
  }
}

function sessionFile(
  row: Row<SessionsTable>,
  state: SessionFile['state'],
  checkIn: Row<CheckInsTable> | undefined,
): SessionFile {
  return {
    id: row.id,
    sensor: row.sensor,
    fileName: row.file_name,
    contentHash: row.content_hash,
    setUp: setUpOf(row),
    setUpConfirmedAt: row.set_up_confirmed_at,
    mount: row.mount,
    state,
    problem: row.problem,
    startedAtUs: row.started_at_us,
    createdAt: row.created_at,
    planned:
      row.plan_version !== null && row.plan_exercise_id !== null
        ? { planVersion: row.plan_version, exerciseId: row.plan_exercise_id }
        : null,
    sensorDescription: row.sensor_description === null ? null : JSON.parse(row.sensor_description),
    checkIn: checkIn
      ? { answer: checkIn.answer, note: checkIn.note, at: checkIn.at, version: checkIn.version }
      : null,
    ...(row.check_in_version > 0 && { removedCheckInVersion: row.check_in_version }),
    notes: row.notes,
    excluded:
      row.excluded_reason !== null && row.excluded_at !== null
        ? { reason: row.excluded_reason, at: row.excluded_at }
        : null,
    timeScale: row.time_scale,
    rateHz: row.rate_hz,
    version: row.version,
  }
}

function editsOf(raw: SqliteDatabase, sessionId: string, version: number): EditsFile {
  const marks = all<MarksTable>(raw, 'select * from marks where session_id = ? order by at_s, seq', sessionId)
  const holds = all<HoldEditsTable>(
    raw,
    'select * from hold_edits where session_id = ? order by from_s, rowid',
    sessionId,
  )
  return {
    version,
    marks: marks.map((row) => ({
      id: row.id,
      atS: row.at_s,
      kind: row.kind as EditsFile['marks'][number]['kind'],
      note: row.note,
    })),
    holds: holds.map((row) => ({
      id: row.id,
      kind: row.kind,
      fromS: row.from_s,
      toS: row.to_s,
      reason: row.reason,
    })),
  }
}

function repetitionNote(row: Row<RepetitionNotesTable>): RepetitionNotesFile[number] {
  return {
    id: row.id,
    atS: row.at_s,
    stance: row.stance as RepetitionNotesFile[number]['stance'],
    signs: JSON.parse(row.signs),
    note: row.note,
    version: row.version,
    updatedAt: row.updated_at,
  }
}

function diaryEntry(row: Row<DiaryEntriesTable>): DiaryFile[number] {
  return {
    id: row.id,
    kind: row.kind,
    fromDate: row.from_date,
    untilDate: row.until_date,
    title: row.title,
    dose: row.dose,
    note: row.note,
    version: row.version,
    createdAt: row.created_at,
    updatedAt: row.updated_at,
  }
}

function analysisOf(raw: SqliteDatabase, sessionId: string): StoredAnalysis | null {
  const row = one<ReportsTable>(raw, 'select * from reports where session_id = ?', sessionId)
  if (!row) return null
  const holds = all<HoldsTable>(
    raw,
    'select detail from holds where session_id = ? order by hold_index',
    sessionId,
  )
  return {
    report: JSON.parse(row.report),
    timeline: JSON.parse(row.timeline),
    holds: holds.map(({ detail }) => JSON.parse(detail)),
  }
}

function streamOf(raw: SqliteDatabase, sessionId: string): StreamFile | null {
  const row = one<StreamsTable>(raw, 'select * from streams where session_id = ?', sessionId)
  if (!row) return null
  const dtypes = all<Pick<SampleBlocksTable, 'dtype'>>(
    raw,
    'select distinct dtype from sample_blocks where stream_id = ?',
    row.id,
  )
  const lost = all<LostRangesTable>(
    raw,
    'select * from lost_ranges where stream_id = ? order by first_index',
    row.id,
  )
  return {
    id: row.id,
    kind: row.kind,
    columns: row.columns.split(','),
    // The wider one holds the values of both.
    dtype: dtypes.length > 0 && dtypes.every(({ dtype }) => dtype === 'float32') ? 'float32' : 'float64',
    rateHz: row.rate_hz,
    startedAtUs: row.started_at_us,
    resolutionMs2: row.resolution_ms2,
    source: row.source === null ? null : JSON.parse(row.source),
    nextIndex: row.next_index,
    complete: row.complete === 1,
    lost: lost.map(({ first_index, count }) => ({ firstIndex: first_index, count })),
  }
}

function one<Table>(raw: SqliteDatabase, sql: string, id: string): Row<Table> | undefined {
  return raw.prepare<[string], Row<Table>>(sql).get(id)
}

function all<Table>(raw: SqliteDatabase, sql: string, id: string): Row<Table>[] {
  return raw.prepare<[string], Row<Table>>(sql).all(id)
}
