import type { NewPlan } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { isCalendarDay } from './calendar-day.ts'

/** @throws {ServerError} for what the schema cannot see: an exercise id used twice, a day that does not exist */
export function checkPlan({ exercises, validFrom, validUntil }: NewPlan): void {
  const ids = exercises.map(({ id }) => id)
  const twice = ids.find((id, i) => ids.indexOf(id) !== i)
  if (twice !== undefined) throw invalid(`Two exercises have the id ${twice}; each needs its own.`)
  if (!isCalendarDay(validFrom)) throw invalid(`validFrom ${validFrom} is no day of the calendar.`)
  if (validUntil === undefined || validUntil === null) return
  if (!isCalendarDay(validUntil)) throw invalid(`validUntil ${validUntil} is no day of the calendar.`)
  if (validUntil < validFrom) throw invalid(`validUntil ${validUntil} lies before validFrom ${validFrom}.`)
}

function invalid(reason: string): ServerError {
  return new ServerError('PLAN_INVALID', { reason })
}
