import type { NewShare } from '#protocol/people'
import { ServerError } from '../errors.ts'
import { isCalendarDay } from '../routes/calendar-day.ts'
import type { RoleRecords } from '../store/people/roles.ts'
import type { ShareScope } from '../store/people/shares.ts'

/** @throws {ServerError} for a session of another dog, and for days that are none or the wrong way round */
export async function shareScope(roles: RoleRecords, dogId: string, asked: NewShare): Promise<ShareScope> {
  if (asked.kind === 'live') {
    const { kind, sessionId } = asked
    if ((await roles.dogOfSession(sessionId)) === dogId) return { kind, sessionId }
    throw new ServerError('SESSION_NOT_FOUND', { sessionId })
  }
  const { kind, from, to, questions = '' } = asked
  for (const day of [from, to]) {
    if (!isCalendarDay(day)) throw invalid(`${day} is no day of the calendar.`)
  }
  if (to < from) throw invalid(`The last day, ${to}, is before the first, ${from}.`)
  return { kind, from, to, questions }
}

function invalid(reason: string): ServerError {
  return new ServerError('REQUEST_INVALID', { reason })
}
