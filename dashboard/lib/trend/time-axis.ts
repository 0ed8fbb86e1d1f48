/** A stretch of time, UTC ms. */
export interface TimeSpan {
  readonly fromMs: number
  readonly toMs: number
}

export interface TimeTick {
  readonly atMs: number
  readonly label: string
}

const MONTH_STEPS = [1, 2, 3, 6, 12, 24, 60]
const DAY_MS = 864e5

/** First days of months (of weeks in short spans) in UTC, at most `most` of them, labelled with the year where it turns, in full ("Sept 26" would be a day). */
export function timeTicks({ fromMs, toMs }: TimeSpan, most: number): TimeTick[] {
  const days = (toMs - fromMs) / DAY_MS
  if (days < 62) return dayTicks(fromMs, toMs, most)
  const step = MONTH_STEPS.find((months) => days / (30.44 * months) <= most) ?? 120
  const first = new Date(fromMs)
  const ticks: TimeTick[] = []
  for (
    let month = Math.ceil((first.getUTCFullYear() * 12 + first.getUTCMonth()) / step) * step;
    ;
    month += step
  ) {
    const atMs = Date.UTC(Math.floor(month / 12), month % 12)
    if (atMs > toMs) return ticks
    if (atMs < fromMs) continue
    const isNewYear = ticks.length === 0 || month % 12 < step
    ticks.push({ atMs, label: (step >= 12 ? years : isNewYear ? monthsAndYears : months).format(atMs) })
  }
}

function dayTicks(fromMs: number, toMs: number, most: number): TimeTick[] {
  const stepMs = Math.max(1, Math.ceil((toMs - fromMs) / DAY_MS / most)) * DAY_MS
  const ticks: TimeTick[] = []
  for (let atMs = Math.ceil(fromMs / DAY_MS) * DAY_MS; atMs <= toMs; atMs += stepMs) {
    ticks.push({ atMs, label: daysAndMonths.format(atMs) })
  }
  return ticks
}

const format = (options: Intl.DateTimeFormatOptions) =>
  new Intl.DateTimeFormat(undefined, { ...options, timeZone: 'UTC' })
const years = format({ year: 'numeric' })
const months = format({ month: 'short' })
const monthsAndYears = format({ month: 'short', year: 'numeric' })
const daysAndMonths = format({ day: 'numeric', month: 'short' })
const wholeDays = format({ dateStyle: 'medium' })

/** A day given as YYYY-MM-DD, as people write it. */
export const dayText = (day: string) => wholeDays.format(Date.parse(day))
