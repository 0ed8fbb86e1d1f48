import type { CheckIn, NewPlan, Plan, SessionSummary } from '#protocol/resources'

/** What the therapist allows, in versions: every change is a new one, and none is ever changed. */
export interface PlanRecords {
  /**
   * Adds the version after `newest` (0 for the first one) and gives it; null, with nothing changed,
   * when the newest is another one by now.
   */
  add(dogId: string, newest: number, plan: NewPlan): Promise<Plan | null>
  /** The newest, or the version asked for; null when there is none. */
  plan(dogId: string, version?: number): Promise<Plan | null>
  /** All versions, newest first. */
  plans(dogId: string): Promise<Plan[]>
}

export type StoredCheckIn = NonNullable<SessionSummary['checkIn']>

/** How the dog was on the morning after: one answer a session, the last one given. */
export interface CheckInRecords {
  /** Replaces an earlier answer; null when there is no such session. */
  set(sessionId: string, checkIn: CheckIn): Promise<StoredCheckIn | null>
  /** False when there was none. */
  remove(sessionId: string): Promise<boolean>
}
