import type { Change, Trend } from '#signal/trend/trend-types'
import { accelerationScale, decimal, measured } from '../format'
import type { AccelerationUnit } from '../format'
import type { FigureRow } from './report-model'
import type { ReportMeasure } from './report-sources'

/** What a measure is called within a sentence. */
export const MEASURE_WORDS: Readonly<Record<ReportMeasure, string>> = {
  swayRms: 'sway',
  tremorRms: 'tremor',
  handsOffHoldS: 'hands-off hold time',
  bestHoldS: 'best hold',
  supportShare: 'share with support',
}

/** What a measure is called in a row of a table, with the unit of its values. */
export function measureName(measure: ReportMeasure, unit: AccelerationUnit): string {
  switch (measure) {
    case 'swayRms':
      return `Sway, ${accelerationScale(unit).name}`
    case 'tremorRms':
      return `Tremor (4–12 Hz), ${accelerationScale(unit).name}`
    case 'handsOffHoldS':
      return 'Hands-off hold time, s'
    case 'bestHoldS':
      return 'Best hold, s'
    case 'supportShare':
      return 'Share with support, %'
  }
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
  const row = {
    name: measureName(measure, unit),
    inWords: MEASURE_WORDS[measure],
    n: decimal(trend.counted, 0),
    verdict: trend.verdict,
  }
  if (baseline && change) {
    return {
      ...row,
      first: told(baseline.mean),
      newest: told(change.newest),
      change: changeWords(trend, change),
      detectable: detectableWords(trend, change),
    }
  }
  const valued = trend.sessions.filter(({ value, part }) => value !== null && part !== 'left out')
  const missing = { first: '–', newest: '–', detectable: '–' }
  if (valued.length === 0) return { ...row, ...missing, change: NEVER[measure], verdict: '–' }
  // The sessions that n counts; without any, those of the first weeks on the surface.
  const counting = valued.filter(({ part }) => part !== 'familiarisation')
  const values = (counting.length > 0 ? counting : valued).map(({ value }) => value!)
  const [low, high] = [Math.min(...values), Math.max(...values)]
  const which = counting.length > 0 ? '' : ' in the first weeks'
  const range = values.length === 1 ? `one value, ${told(low)}` : `values ${told(low)} to ${told(high)}`
  return { ...row, ...missing, change: `${range}${which}` }
}

/** A value of a measure in the unit that `measureName` states. */
export function valueWords(measure: ReportMeasure, value: number, unit: AccelerationUnit): string {
  switch (measure) {
    case 'swayRms':
    case 'tremorRms':
      return measured(value * accelerationScale(unit).factor)
    case 'supportShare':
      return decimal(100 * value, 0)
    default:
      return decimal(value, 1)
  }
}

/** "−23 % (−31 to −14 %)" */
function changeWords({ scale, unit }: Trend, change: Change): string {
  const { low, high } = changeInterval(scale, change)
  const shown = (value: number) => signed(unit === '1' ? 100 * value : value)
  return `${shown(change.value)} ${changeUnit(unit)} (${shown(low)} to ${shown(high)})`
}

/** "−22 to +28 %" */
function detectableWords({ unit }: Trend, { limits }: Change): string {
  const shown = (value: number) => signed(unit === '1' ? 100 * value : value)
  return `${shown(limits.fall)} to ${shown(limits.rise)} ${changeUnit(unit)}`
}

/** Shares change in percentage points. */
const changeUnit = (unit: string) => (unit === '1' ? 'points' : unit)

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
