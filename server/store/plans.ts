import type { CheckIn, NewPlan, Plan, SessionSummary } from '#protocol/resources'
import type { Author, Changed, Precondition } from './changes.ts'

/** What the therapist allows, in versions: every change is a new one, and none is ever changed. */
export interface PlanRecords {
  /**
   * Adds the version after `newest` (0 for the first one) and gives it; null, with nothing changed,
   * when the newest is another one by now.
   */
  add(dogId: string, newest: number, plan: NewPlan, by?: Author): Promise<Plan | null>
  /** The newest, or the version asked for; null when there is none. */
  plan(dogId: string, version?: number): Promise<Plan | null>
  /** All versions, newest first. */
  plans(dogId: string): Promise<Plan[]>
}

export type StoredCheckIn = NonNullable<SessionSummary['checkIn']>

/** How the dog was on the morning after: one answer a session, the last one given. */
export interface CheckInRecords {
  /** Replaces an earlier answer; `missing` when there is no such session. */
  set(
    sessionId: string,
    checkIn: CheckIn,
    precondition?: Precondition,
    by?: Author,
  ): Promise<Changed<StoredCheckIn>>
  /** `missing` when there was none. */
  remove(sessionId: string, precondition?: Precondition, by?: Author): Promise<Changed<null>>
}
