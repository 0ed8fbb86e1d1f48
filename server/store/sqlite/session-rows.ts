import type { SessionSummary } from '#protocol/resources'
import type { SessionsTable } from './schema.ts'

/** A session row with its dog's name, as the API tells it. */
export function summaryOf(row: SessionsTable & { dog_name: string }): SessionSummary {
  return {
    id: row.id,
    dogId: row.dog_id,
    dogName: row.dog_name,
    sensor: row.sensor,
    fileName: row.file_name,
    setUp:
      row.exercise !== null && row.surface !== null ? { exercise: row.exercise, surface: row.surface } : null,
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
    analysisVersion: row.analysis_version,
    problem: row.problem,
    planned: null,
    checkIn: null,
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
