import type { TrendLine } from '#protocol/trends'
import { leftOutReason } from './words'

export interface LeftOutGroup {
  readonly reason: string
  /** Newest first. */
  readonly sessions: readonly { readonly id: string; readonly iso: string }[]
}

/** The sessions of a line that do not count, by reason. */
export function leftOutGroups(line: TrendLine): LeftOutGroup[] {
  const groups = new Map<string, { id: string; iso: string }[]>()
  for (let k = line.sessionIds.length - 1; k >= 0; k--) {
    const reason = leftOutReason(line, k)
    if (reason === null) continue
    const iso = new Date(line.trend.sessions[k].startedAtUs / 1000).toISOString()
    const session = { id: line.sessionIds[k], iso }
    const group = groups.get(reason)
    if (group) group.push(session)
    else groups.set(reason, [session])
  }
  return [...groups].map(([reason, sessions]) => ({ reason, sessions }))
}
