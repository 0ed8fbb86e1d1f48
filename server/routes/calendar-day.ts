/** Whether YYYY-MM-DD is a day of the calendar: 2026-02-30 is not. */
export function isCalendarDay(day: string): boolean {
  const at = new Date(`${day}T00:00:00Z`)
  return !Number.isNaN(at.getTime()) && at.toISOString().startsWith(day)
}
