/**
 * Calendar days and weeks of a person, as `YYYY-MM-DD`. A week runs from Monday to Sunday (ISO 8601). Days are
 * counted on the calendar, never in hours: a day of 23 h or one that a zone skipped is a day like any other.
 */

/** Making one costs more than using it a thousand times. */
const formats = new Map<string, Intl.DateTimeFormat>()

/** Whether this is the name of a time zone (IANA), such as `Europe/Berlin`; an offset such as `+02:00` is none. */
export function isTimeZone(name: string): boolean {
  if (!/^[A-Za-z][A-Za-z0-9_+\-/]*$/.test(name)) return false
  try {
    formatOf(name)
    return true
  } catch {
    // Intl refuses what it does not know with a RangeError; there is no other way to ask it.
    return false
  }
}

/**
 * The day an instant falls on in a time zone.
 * @throws {RangeError} for a time zone nobody knows, or an instant that is no date
 */
export function localDay(at: Date | string | number, timeZone: string): string {
  const parts: Partial<Record<Intl.DateTimeFormatPartTypes, string>> = {}
  for (const { type, value } of formatOf(timeZone).formatToParts(new Date(at))) parts[type] = value
  return `${parts.year!.padStart(4, '0')}-${parts.month}-${parts.day}`
}

function formatOf(timeZone: string): Intl.DateTimeFormat {
  let format = formats.get(timeZone)
  if (!format) {
    // The calendar of ISO 8601, whatever the reader's language prefers.
    format = new Intl.DateTimeFormat('en-u-ca-iso8601-nu-latn', {
      timeZone,
      year: 'numeric',
      month: '2-digit',
      day: '2-digit',
    })
    formats.set(timeZone, format)
  }
  return format
}

const DAY_MS = 86_400_000
const middayOf = (day: string) => Date.parse(`${day}T12:00:00Z`)
const dayOf = (ms: number) => new Date(ms).toISOString().slice(0, 10)

/** The day so many days later; earlier for a negative number. */
export const addDays = (day: string, days: number): string => dayOf(middayOf(day) + days * DAY_MS)

/** 0 for Monday … 6 for Sunday. */
export const weekdayOf = (day: string): number => (new Date(middayOf(day)).getUTCDay() + 6) % 7

/** The Monday of the week a day lies in. */
export const mondayOf = (day: string): string => addDays(day, -weekdayOf(day))
