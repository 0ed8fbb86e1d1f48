import type { SessionSummary, SetUp } from '#protocol/resources'
import type { Insertable, Selectable } from 'kysely'
import type { NewSessionRecord } from '../records.ts'
import type { CheckInsTable, SessionsTable } from './schema.ts'

/** A session row with its dog's name, the step of its sensor and the answer of the morning after. */
export interface SessionRow extends Selectable<SessionsTable> {
  dog_name: string
  resolution_ms2: number | null
  answer: CheckInsTable['answer'] | null
  answer_note: string | null
  answered_at: string | null
  answer_version: number | null
  fatigue_signs: number
}

/** A session as the API tells it. */
export function summaryOf(row: SessionRow): SessionSummary {
  return {
    id: row.id,
    dogId: row.dog_id,
    dogName: row.dog_name,
    sensor: row.sensor,
    fileName: row.file_name,
    setUp: setUpOf(row),
    mount: row.mount,
    state: row.state,
    startedAt: row.started_at_us === null ? null : new Date(row.started_at_us / 1000).toISOString(),
    createdAt: row.created_at,
    durationS: row.duration_s,
    rateHz: row.rate_hz,
    verdict: row.verdict,
    holds: row.holds,
    holdS: row.hold_s,
    handsOffHoldS: row.hands_off_hold_s,
    bestHoldS: row.best_hold_s,
    swayMs2: row.sway_ms2,
    tremorMs2: row.tremor_ms2,
    comparableSwayMs2: row.comparable_sway_ms2,
    comparableTremorMs2: row.comparable_tremor_ms2,
    ...(row.resolution_ms2 !== null && { resolutionMs2: row.resolution_ms2 }),
    analysisVersion: row.analysis_version,
    problem: row.problem,
    planned:
      row.plan_version !== null && row.plan_exercise_id !== null
        ? { planVersion: row.plan_version, exerciseId: row.plan_exercise_id }
        : null,
    checkIn:
      row.answer !== null && row.answered_at !== null && row.answer_version !== null
        ? { answer: row.answer, note: row.answer_note, at: row.answered_at, version: row.answer_version }
        : null,
    version: row.version,
    setUpConfirmedAt: row.set_up_confirmed_at,
    excluded:
      row.excluded_reason !== null && row.excluded_at !== null
        ? { reason: row.excluded_reason, at: row.excluded_at }
        : null,
    repetitions: row.repetitions,
    supportShare: row.support_share,
    fatigueRatio: row.fatigue_ratio,
    planWarnings: row.plan_warnings,
    fatigueSigns: row.fatigue_signs,
  }
}

export function sessionRow(session: NewSessionRecord, createdAt: Date): Insertable<SessionsTable> {
  const { startedAtUs, sensorDescription, setUpConfirmed } = session
  return {
    id: session.id,
    dog_id: session.dogId,
    sensor: session.sensor,
    file_name: session.fileName,
    content_hash: session.contentHash,
    ...setUpColumns(session.setUp),
    mount: session.mount,
    state: session.state,
    started_at_us: startedAtUs,
    created_at: createdAt.toISOString(),
    ordered_at_us: startedAtUs ?? createdAt.getTime() * 1000,
    plan_version: session.planned?.planVersion ?? null,
    plan_exercise_id: session.planned?.exerciseId ?? null,
    sensor_description: sensorDescription ? JSON.stringify(sensorDescription) : null,
    set_up_confirmed_at: setUpConfirmed ? createdAt.toISOString() : null,
  }
}

type SetUpColumns = Pick<
  SessionsTable,
  'exercise' | 'surface' | 'fore_to_hind_cm' | 'left_to_right_cm' | 'height_cm' | 'firmness' | 'unstable'
>

export function setUpColumns(setUp: SetUp | null): SetUpColumns {
  return {
    exercise: setUp?.exercise ?? null,
    surface: setUp?.surface ?? null,
    fore_to_hind_cm: setUp?.foreToHindCm ?? null,
    left_to_right_cm: setUp?.leftToRightCm ?? null,
    height_cm: setUp?.heightCm ?? null,
    firmness: setUp?.firmness ?? null,
    unstable: setUp?.unstable === undefined ? null : setUp.unstable ? 1 : 0,
  }
}

/** Null where exercise or surface was not noted. */
export function setUpOf({ exercise, surface, ...row }: SetUpColumns): SetUp | null {
  if (exercise === null || surface === null) return null
  return {
    exercise,
    surface,
    ...(row.fore_to_hind_cm !== null && { foreToHindCm: row.fore_to_hind_cm }),
    ...(row.left_to_right_cm !== null && { leftToRightCm: row.left_to_right_cm }),
    ...(row.height_cm !== null && { heightCm: row.height_cm }),
    ...(row.firmness !== null && { firmness: row.firmness }),
    ...(row.unstable !== null && { unstable: row.unstable === 1 }),
  }
}

interface Position {
  readonly orderedAtUs: number
  readonly id: string
}

/** Where a page ended, as the opaque text that asks for the next one. */
export function cursorOf({ orderedAtUs, id }: Position): string {
  return Buffer.from(`${orderedAtUs}.${id}`).toString('base64url')
}

/** Null for text that no page gave out. */
export function positionOf(cursor: string): Position | null {
  const match = /^(-?\d{1,16})\.([A-Za-z0-9_-]{1,64})$/.exec(Buffer.from(cursor, 'base64url').toString())
  return match ? { orderedAtUs: Number(match[1]), id: match[2] } : null
}
