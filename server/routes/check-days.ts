import type { NewDiaryEntry } from '#protocol/diary'
import { ServerError } from '../errors.ts'
import { isCalendarDay } from './calendar-day.ts'

/** @throws {ServerError} for days the schema cannot tell from others */
export function checkDays({ fromDate, untilDate }: Pick<NewDiaryEntry, 'fromDate' | 'untilDate'>): void {
  for (const day of [fromDate, untilDate]) {
    if (day !== null && !isCalendarDay(day)) throw invalid(`${day} is no day of the calendar.`)
  }
  if (untilDate !== null && untilDate < fromDate) {
    throw invalid(`The last day, ${untilDate}, is before the first, ${fromDate}.`)
  }
}

function invalid(reason: string): ServerError {
  return new ServerError('DIARY_ENTRY_INVALID', { reason })
}
