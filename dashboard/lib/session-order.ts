import type { SessionSummary } from '#protocol/resources'

/** When a session took place; the day it was added when the trace does not tell. */
export const startOf = (session: SessionSummary): string => session.startedAt ?? session.createdAt

export function newestFirst(sessions: readonly SessionSummary[]): SessionSummary[] {
  return [...sessions].sort((a, b) => Date.parse(startOf(b)) - Date.parse(startOf(a)))
}

/** A session nobody dated: it has no place on an axis of time. */
export const isDated = (session: SessionSummary): boolean => session.startedAt !== null

/** Played by the simulated harness: nothing of it was measured on a dog. */
export const isSimulated = (session: SessionSummary): boolean => session.sensor === 'simulated harness'

/** A session that no sensor measured as it went: simulated, or a trace played again; null for a real one. */
export function playedKind(sensor: string | undefined): 'simulated' | 'replay' | null {
  if (sensor === 'simulated harness') return 'simulated'
  return sensor === 'replay' ? 'replay' : null
}

export interface SetUpSeries {
  name: string
  /** False for sessions whose set-up nobody noted: they may be of any, so no line joins them. */
  joined: boolean
  /** Oldest first; only sessions with a comparable sway value. */
  sessions: SessionSummary[]
}

/**
 * Sessions with a date and a comparable sway value, one series per set-up: only like set-ups are
 * compared. Those without a noted set-up make one series of single points.
 */
export function bySetUp(
  sessions: readonly SessionSummary[],
  nameOf: (s: SessionSummary) => string,
): SetUpSeries[] {
  const groups = new Map<string, SessionSummary[]>()
  for (const session of newestFirst(sessions).reverse()) {
    if (session.state !== 'finished' || session.comparableSwayMs2 === null || !isDated(session)) continue
    const name = nameOf(session)
    const group = groups.get(name)
    if (group) group.push(session)
    else groups.set(name, [session])
  }
  return [...groups].map(([name, list]) => ({ name, joined: list[0].setUp !== null, sessions: list }))
}
