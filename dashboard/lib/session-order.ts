import type { SessionSummary } from '#protocol/resources'

/** When a session took place; the day it was added when the trace does not tell. */
export const startOf = (session: SessionSummary): string => session.startedAt ?? session.createdAt

export function newestFirst(sessions: readonly SessionSummary[]): SessionSummary[] {
  return [...sessions].sort((a, b) => Date.parse(startOf(b)) - Date.parse(startOf(a)))
}

export interface SetUpSeries {
  name: string
  /** Oldest first; only sessions with a comparable sway value. */
  sessions: SessionSummary[]
}

/** Sessions with a comparable sway value, one series per set-up: only like set-ups are compared. */
export function bySetUp(
  sessions: readonly SessionSummary[],
  nameOf: (s: SessionSummary) => string,
): SetUpSeries[] {
  const groups = new Map<string, SessionSummary[]>()
  for (const session of newestFirst(sessions).reverse()) {
    if (session.state !== 'finished' || session.comparableSwayMs2 === null) continue
    const name = nameOf(session)
    const group = groups.get(name)
    if (group) group.push(session)
    else groups.set(name, [session])
  }
  return [...groups].map(([name, list]) => ({ name, sessions: list }))
}
