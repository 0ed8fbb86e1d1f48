import type { Change, Trend } from '#signal/trend/trend-types'
import { acceleration, decimal, percent } from '../format'
import type { AccelerationUnit } from '../format'
import type { FigureRow } from './report-model'
import type { ReportMeasure } from './report-sources'

/** What a measure is called in a row of a table. */
export const MEASURE_NAMES: Readonly<Record<ReportMeasure, string>> = {
  swayRms: 'Sway',
  tremorRms: 'Tremor (4–12 Hz)',
  handsOffHoldS: 'Hands-off hold time',
  bestHoldS: 'Best hold',
  supportShare: 'Share with support',
}

/** Why a measure has no value in any session. */
const NEVER: Readonly<Record<ReportMeasure, string>> = {
  swayRms: 'no hold long enough',
  tremorRms: 'not supported by the recordings',
  handsOffHoldS: 'hands never marked',
  bestHoldS: 'no holds',
  supportShare: 'hands never marked',
}

/**
 * One measure at the beginning and now, with the change and its 95 % interval: the change and its smallest
 * detectable change to both sides, on a log scale as ratios. It leaves out 0 exactly when the change is
 * beyond noise.
 */
export function figureRow(measure: ReportMeasure, trend: Trend, unit: AccelerationUnit): FigureRow {
  const told = (value: number) => valueWords(measure, value, unit)
  const { baseline, change } = trend
  const name = MEASURE_NAMES[measure]
  if (baseline && change) {
    return {
      name,
      first: told(baseline.mean),
      newest: told(change.newest),
      change: changeWords(trend, change),
      verdict: trend.verdict,
    }
  }
  const values = trend.sessions.flatMap(({ value, part }) =>
    value === null || part === 'left out' ? [] : [value],
  )
  if (values.length === 0) return { name, first: '–', newest: '–', change: NEVER[measure], verdict: '–' }
  const range =
    values.length === 1
      ? `${told(values[0])} in 1 session`
      : `${told(Math.min(...values))} to ${told(Math.max(...values))} in ${values.length} sessions`
  return { name, first: '–', newest: '–', change: range, verdict: trend.verdict }
}

/** A value of a measure with its unit. */
export function valueWords(measure: ReportMeasure, value: number, unit: AccelerationUnit): string {
  switch (measure) {
    case 'swayRms':
    case 'tremorRms': {
      const quantity = acceleration(value, unit)
      return `${quantity.value} ${quantity.unit}`
    }
    case 'supportShare':
      return percent(value)
    default:
      return `${decimal(value, 1)} s`
  }
}

/** "−23 % (−31 to −14 %)" */
function changeWords({ scale, unit }: Trend, change: Change): string {
  const { low, high } = changeInterval(scale, change)
  const shown = (value: number) => signed(unit === '1' ? 100 * value : value)
  const words = unit === '1' ? 'points' : unit
  return `${shown(change.value)} ${words} (${shown(low)} to ${shown(high)})`
}

/** 95 % interval of a change, in the unit of the trend. */
export function changeInterval(
  scale: Trend['scale'],
  { value, limits }: Pick<Change, 'value' | 'limits'>,
): { low: number; high: number } {
  if (scale === 'linear') return { low: value + limits.fall, high: value + limits.rise }
  const middle = Math.log1p(value / 100)
  const reach = Math.log1p(limits.rise / 100)
  return { low: 100 * Math.expm1(middle - reach), high: 100 * Math.expm1(middle + reach) }
}

/** Whole numbers from 10 on, one decimal below, as in the sentences of trends. */
function signed(value: number): string {
  const text = decimal(Math.abs(value), Math.abs(value) < 9.95 ? 1 : 0)
  if (/^[0.,]+$/.test(text)) return text
  return value < 0 ? `−${text}` : `+${text}`
}
