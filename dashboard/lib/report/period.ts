/**
 * The days a report covers, both counted, YYYY-MM-DD. Days of UTC, as in the trends: the same period gives the
 * same numbers there.
 */
export interface Period {
  readonly fromDay: string
  readonly toDay: string
}

/** Periods offered with one press, in weeks. */
export const PERIOD_WEEKS = [4, 8, 12, 16] as const
export const USUAL_WEEKS = 12

const DAY_MS = 86_400_000
const startMs = (day: string) => Date.parse(`${day}T00:00:00Z`)

export const dayOf = (at: Date): string => at.toISOString().slice(0, 10)

export const addDays = (day: string, days: number) => dayOf(new Date(startMs(day) + days * DAY_MS))

/** The last `weeks` weeks up to today, today counted. */
export function lastWeeks(weeks: number, now: Date): Period {
  const toDay = dayOf(now)
  return { fromDay: addDays(toDay, 1 - 7 * weeks), toDay }
}

/** The moments of a period, half-open: [first midnight, midnight after the last day). */
export function momentsOf({ fromDay, toDay }: Period): { fromMs: number; toMs: number } {
  return { fromMs: startMs(fromDay), toMs: startMs(toDay) + DAY_MS }
}

/** Whether a moment (ISO 8601) lies in a period; false for one nobody knows. */
export function isWithin(period: Period, iso: string | null): boolean {
  if (iso === null) return false
  const { fromMs, toMs } = momentsOf(period)
  const at = Date.parse(iso)
  return at >= fromMs && at < toMs
}

export function daysIn(period: Period): number {
  const { fromMs, toMs } = momentsOf(period)
  return (toMs - fromMs) / DAY_MS
}

/** What is wrong with two days as typed, or null when they make a period. */
export function periodFault(fromDay: string, toDay: string): string | null {
  if (!isDay(fromDay) || !isDay(toDay)) return 'Give both days.'
  if (fromDay > toDay) return 'The first day lies after the last one.'
  return null
}

/** True for a day that exists: 31 February would be taken for one in March. */
function isDay(day: string): boolean {
  return (
    /^\d{4}-\d{2}-\d{2}$/.test(day) && Number.isFinite(startMs(day)) && dayOf(new Date(startMs(day))) === day
  )
}

/** The period an address asks for as `?from=…&to=…`; null without a usable one. */
export function periodOfQuery(query: string): Period | null {
  const words = new URLSearchParams(query)
  const [fromDay, toDay] = [words.get('from') ?? '', words.get('to') ?? '']
  return periodFault(fromDay, toDay) === null ? { fromDay, toDay } : null
}

export const queryOf = ({ fromDay, toDay }: Period) => `?from=${fromDay}&to=${toDay}`

const longDays = new Intl.DateTimeFormat(undefined, { dateStyle: 'medium', timeZone: 'UTC' })
const shortDays = new Intl.DateTimeFormat(undefined, { day: 'numeric', month: 'short', timeZone: 'UTC' })

/** "25 Nov 2026" */
export const dayWords = (day: string) => longDays.format(new Date(startMs(day)))

/** "25 Nov" */
export const shortDay = (day: string) => shortDays.format(new Date(startMs(day)))

/** "2 Sep 2026 to 25 Nov 2026 (12 weeks)" */
export function periodWords(period: Period): string {
  const days = daysIn(period)
  const length = days % 7 === 0 ? count(days / 7, 'week') : count(days, 'day')
  return `${dayWords(period.fromDay)} to ${dayWords(period.toDay)} (${length})`
}

/** "1 session", "2 sessions" */
export function count(number: number, thing: string): string {
  // The plural of "line on mornings" is that of its first word.
  return `${number} ${number === 1 ? thing : thing.replace(/( of | on | for |$)/, 's$1')}`
}
