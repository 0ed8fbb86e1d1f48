import type { Trend } from '#signal/trend/trend-types'
import { WEEK_US } from '#signal/trend/weekly'

/** Two ends of a straight line (straight on the scale of the measure); values in its unit. */
export interface SlopeLine {
  readonly fromMs: number
  readonly toMs: number
  readonly ends: readonly [number, number]
  /** The same with the ends of Sen's interval as slopes, both turning about the median week. */
  readonly low: readonly [number, number]
  readonly high: readonly [number, number]
}

/**
 * The Theil–Sen line through the weekly medians, from the middle of the first week to that of the last, and the two
 * lines with the ends of Sen's 95 % interval as slopes through the same point (median week, median value). The band
 * between them is how far the slope may be off; it does not say where single sessions lie. null without a slope, and
 * when too few sessions count for a verdict: a line would say what the words do not.
 */
export function slopeLine(trend: Trend): SlopeLine | null {
  const { weekly, slopePer4Weeks, scale } = trend
  if (slopePer4Weeks === null || weekly.length < 2 || isTooFew(trend)) return null
  const into = scale === 'log' ? Math.log : same
  const back = scale === 'log' ? Math.exp : same
  const perWeek = (change: number) => (scale === 'log' ? Math.log1p(change / 100) : change) / 4
  const middleWeek = median(weekly.map(({ week }) => week))
  const middle = median(weekly.map(({ value }) => into(value)))
  const first = weekly[0]
  const last = weekly[weekly.length - 1]
  const ends = (change: number) =>
    [first, last].map(({ week }) => back(middle + perWeek(change) * (week - middleWeek))) as [number, number]
  return {
    fromMs: (first.startUs + WEEK_US / 2) / 1000,
    toMs: (last.startUs + WEEK_US / 2) / 1000,
    ends: ends(slopePer4Weeks.value),
    low: ends(slopePer4Weeks.low),
    high: ends(slopePer4Weeks.high),
  }
}

/** Whether too few sessions count to say anything of a slope. */
export const isTooFew = ({ verdict }: Pick<Trend, 'verdict'>) => verdict === 'too few sessions'

function median(values: number[]): number {
  const sorted = values.toSorted((a, b) => a - b)
  const middle = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2
}

const same = (value: number) => value
