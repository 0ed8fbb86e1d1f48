import type { SessionSummary } from '#protocol/resources'
import { playedKind, startOf } from './session-order'

export interface PlanProgress {
  /** Sessions that began today, and days of this week with at least one, in the reader's time zone. */
  today: number
  daysThisWeek: number
  /** Sessions of each exercise today, by its id in the plan. */
  byExercise: ReadonlyMap<string, number>
}

/**
 * What was done against the plan: sessions recorded or uploaded with a known day; simulated and
 * replayed ones only when `simulated` (the demo dog). Weeks begin on Monday (ISO 8601).
 */
export function planProgress(
  sessions: readonly SessionSummary[],
  now: Date,
  options: { simulated?: boolean } = {},
): PlanProgress {
  const counted = sessions.filter(
    (session) =>
      session.state !== 'failed' &&
      (session.startedAt !== null || session.fileName === null) &&
      (options.simulated || playedKind(session.sensor) === null),
  )
  const today = dayOf(now)
  const monday = mondayOf(now)
  const todays = counted.filter((session) => dayOf(new Date(startOf(session))) === today)
  const byExercise = new Map<string, number>()
  for (const { planned } of todays) {
    if (planned) byExercise.set(planned.exerciseId, (byExercise.get(planned.exerciseId) ?? 0) + 1)
  }
  const days = counted.map((session) => new Date(startOf(session))).filter((at) => at >= monday && at <= now)
  return { today: todays.length, daysThisWeek: new Set(days.map(dayOf)).size, byExercise }
}

const dayOf = (at: Date) => `${at.getFullYear()}-${at.getMonth()}-${at.getDate()}`

function mondayOf(now: Date): Date {
  const sinceMonday = (now.getDay() + 6) % 7
  return new Date(now.getFullYear(), now.getMonth(), now.getDate() - sinceMonday)
}
