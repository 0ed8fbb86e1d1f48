import type { NewPlan } from '#protocol/resources'
import { ServerError } from '../errors.ts'

/** @throws {ServerError} for what the schema cannot see: an exercise id used twice, a day that does not exist */
export function checkPlan({ exercises, validFrom }: NewPlan): void {
  const ids = exercises.map(({ id }) => id)
  const twice = ids.find((id, i) => ids.indexOf(id) !== i)
  if (twice !== undefined) throw invalid(`Two exercises have the id ${twice}; each needs its own.`)
  const day = new Date(`${validFrom}T00:00:00Z`)
  if (Number.isNaN(day.getTime()) || !day.toISOString().startsWith(validFrom)) {
    throw invalid(`validFrom ${validFrom} is no day of the calendar.`)
  }
}

function invalid(reason: string): ServerError {
  return new ServerError('PLAN_INVALID', { reason })
}
