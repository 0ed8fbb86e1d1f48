import type { SessionSummary } from '#protocol/resources'
import { date, dateAndTime } from './format'

/** A live session is opened when it begins; a file may say nothing of its day. */
const isUndated = (session: SessionSummary) => session.startedAt === null && session.fileName !== null

/** What a session is called: when it took place, or the name of a file that does not say. */
export function sessionTitle(session: SessionSummary): string {
  return isUndated(session) ? (session.fileName ?? '') : dateAndTime(session.startedAt ?? session.createdAt)
}

/** "date not known, added 1 Mar 2026"; null for a session that has its date. */
export function undatedWords(session: SessionSummary): string | null {
  return isUndated(session) ? `date not known, added ${date(session.createdAt)}` : null
}
