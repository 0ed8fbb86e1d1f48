import type { CheckIn } from './resources.ts'

/** One calendar week (Monday to Sunday, in the time zone asked for) of what was planned and what was done. */
export interface DoseWeek {
  /** Its Monday, YYYY-MM-DD. */
  monday: string
  /** The plan in force on its last day that has passed; null without one. */
  planVersion: number | null
  planned: { days: number | null; sessions: number | null; repetitionsPerSession: number | null }
  done: {
    days: number
    sessions: number
    repetitions: number
    holdS: number
    handsOffHoldS: number | null
    /** Longest session, s. */
    longestS: number
    /** Sessions in which a limit was passed. */
    overLimit: number
    /** Days with more sessions than the plan of that day allows. */
    daysOverSessions: number
  }
  checkIns: Record<CheckIn['answer'], number>
  /** Whether the week is not over yet. */
  current: boolean
  /** Of the current week, what the plan still allows; null where it says no number, and for other weeks. */
  left: { days: number | null; sessions: number | null } | null
}

/** What the next session should mind: less or ask, never more. */
export interface DoseAdvice {
  /** `check in`: nobody said how the dog was after `sessionId`; `ask`: the therapist. */
  kind: 'cut back' | 'ask' | 'rest' | 'check in'
  text: string
  /** The plan's own words with its version, or "common practice, no source". */
  basis: string
  sessionId?: string
}

/** GET /api/dogs/:dogId/dose?timeZone=Europe/Berlin&weeks=26 */
export interface Dose {
  dogId: string
  timeZone: string
  /** Newest first; weeks without sessions since the first one included. */
  weeks: DoseWeek[]
  /** Empty when there is nothing to say. */
  advice: DoseAdvice[]
}
