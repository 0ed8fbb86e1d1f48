import type { Share } from '#protocol/people'
import { dateAndTime } from '../format'
import { periodWords } from '../report/period'

/** How long a live link may work, hours. */
export const LIVE_HOURS = [
  [2, 'for 2 hours'],
  [24, 'until tomorrow, this time'],
  [168, 'for a week'],
] as const

/** How long a link to a report may work, days. */
export const REPORT_DAYS = [
  [1, 'for a day'],
  [7, 'for a week'],
  [30, 'for 30 days'],
] as const

/** What a share shows. */
export function shareTitle({ kind, from, to }: Pick<Share, 'kind' | 'from' | 'to'>): string {
  if (kind === 'live') return 'A session as it happens'
  return from && to ? `Report, ${periodWords({ fromDay: from, toDay: to })}` : 'Report'
}

export const isOver = ({ revokedAt, expiresAt }: Pick<Share, 'revokedAt' | 'expiresAt'>, now = Date.now()) =>
  revokedAt !== null || Date.parse(expiresAt) <= now

/** Until when it works, or since when it does not. */
export function shareEnd(share: Pick<Share, 'revokedAt' | 'expiresAt'>, now = Date.now()): string {
  if (share.revokedAt !== null) return `Withdrawn ${dateAndTime(share.revokedAt)}`
  const at = dateAndTime(share.expiresAt)
  return isOver(share, now) ? `Ended ${at}` : `Works until ${at}`
}

export function openedWords({ opened, lastOpenedAt }: Pick<Share, 'opened' | 'lastOpenedAt'>): string {
  if (opened === 0 || lastOpenedAt === null) return 'Not opened yet'
  const times = opened === 1 ? 'once' : opened === 2 ? 'twice' : `${opened} times`
  return `Opened ${times}, last ${dateAndTime(lastOpenedAt)}`
}
