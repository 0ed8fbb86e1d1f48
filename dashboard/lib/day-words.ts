import { addDays } from '#protocol/local-week'

const DAYS = new Intl.DateTimeFormat(undefined, { dateStyle: 'medium', timeZone: 'UTC' })
const WEEKDAYS = new Intl.DateTimeFormat(undefined, {
  weekday: 'short',
  day: 'numeric',
  month: 'short',
  timeZone: 'UTC',
})
const instant = (day: string) => new Date(`${day}T12:00:00Z`)

/** A day of the calendar, whatever zone the device is in. */
export const dayWords = (day: string) => DAYS.format(instant(day))
export const weekdayWords = (day: string) => WEEKDAYS.format(instant(day))
export const weekWords = (monday: string) => `${weekdayWords(monday)} – ${weekdayWords(addDays(monday, 6))}`
