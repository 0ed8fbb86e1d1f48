/** Which sessions the statistics are of. */
export type SpanName = 'all' | '3 months' | '6 months' | '1 year' | 'own'

export const SPANS: readonly SpanName[] = ['all', '3 months', '6 months', '1 year', 'own']

export interface Days {
  /** YYYY-MM-DD in UTC, included; null for no limit. */
  readonly from: string | null
  readonly to: string | null
}

/** Whether the first day lies after the last one, as may be while both are typed. */
export const isReversed = ({ from, to }: Days) => from !== null && to !== null && from > to

const MONTHS: Partial<Record<SpanName, number>> = { '3 months': 3, '6 months': 6, '1 year': 12 }

/** The days of a span that ends today; the own one as typed. */
export function daysOf(span: SpanName, own: Days, nowMs: number): Days {
  if (span === 'own') return own
  const months = MONTHS[span]
  if (months === undefined) return { from: null, to: null }
  const day = new Date(nowMs)
  const date = day.getUTCDate()
  day.setUTCDate(1)
  day.setUTCMonth(day.getUTCMonth() - months)
  // 31 May less three months is the last day of February.
  const last = new Date(Date.UTC(day.getUTCFullYear(), day.getUTCMonth() + 1, 0)).getUTCDate()
  day.setUTCDate(Math.min(date, last))
  return { from: day.toISOString().slice(0, 10), to: null }
}
