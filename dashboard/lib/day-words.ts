import { addDays } from '#protocol/local-week'

const DAYS = new Intl.DateTimeFormat(undefined, { dateStyle: 'medium', timeZone: 'UTC' })
const WEEKDAY: Intl.DateTimeFormatOptions = {
  weekday: 'short',
  day: 'numeric',
  month: 'short',
  timeZone: 'UTC',
}
const WEEKDAYS = new Intl.DateTimeFormat(undefined, WEEKDAY)
const WEEKDAYS_AND_YEARS = new Intl.DateTimeFormat(undefined, { ...WEEKDAY, year: 'numeric' })
const instant = (day: string) => new Date(`${day}T12:00:00Z`)

/** A day of the calendar, whatever zone the device is in. */
export const dayWords = (day: string) => DAYS.format(instant(day))
const weekdayAndYearWords = (day: string) => WEEKDAYS_AND_YEARS.format(instant(day))
export const weekdayWords = (day: string) => WEEKDAYS.format(instant(day))
/** The days of a week, with the year where it is not the one of `today`. */
export function weekWords(monday: string, today: string): string {
  const sunday = addDays(monday, 6)
  const year = today.slice(0, 4)
  const isOther = monday.slice(0, 4) !== year || sunday.slice(0, 4) !== year
  const words = isOther ? weekdayAndYearWords : weekdayWords
  return `${words(monday)} – ${words(sunday)}`
}
