import type { TrendLine } from '#protocol/trends'
import { ewmaChart } from '#signal/trend/ewma'
import type { Trend } from '#signal/trend/trend-types'

/** More digits than a screen or a table can show would only make the answer longer. */
const DIGITS = 6

/**
 * EWMA of the sessions that count, held against the baseline: target its mean, sigma its standard deviation, both
 * on the scale of the measure (logarithms for ratios), told in the unit of the measure. null without a baseline.
 */
export function ewmaOfTrend({ scale, baseline, sessions }: Trend): TrendLine['ewma'] {
  if (baseline === null) return null
  const [into, back] = scale === 'log' ? [Math.log, Math.exp] : [same, same]
  const values = sessions.flatMap(({ part, value }) =>
    part === 'left out' || part === 'familiarisation' ? [] : [into(value!)],
  )
  const { ewma, low, high, outside } = ewmaChart(values, {
    target: into(baseline.mean),
    sigma: baseline.sem,
  })
  const told = (series: Float64Array) =>
    Array.from(series, (value) => Number(back(value).toPrecision(DIGITS)))
  return { ewma: told(ewma), low: told(low), high: told(high), outside, target: baseline.mean }
}

const same = (value: number) => value
