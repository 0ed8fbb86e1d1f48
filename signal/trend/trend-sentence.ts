import { MIN_VALUES_FOR_5_PERCENT } from './mann-kendall.ts'
import { TREND_MEASURES } from './measures.ts'
import type { LeftOut } from './trend-sessions.ts'
import { FAMILIARISATION_WEEKS } from './trend-sessions.ts'
import type { Trend } from './trend-types.ts'

const LEFT_OUT_WORDS: Readonly<Record<LeftOut, string>> = {
  'excluded by a person': 'that a person set aside',
  weak: 'with too little hold time',
  'look-alike': 'with panting, wagging or handling that can pass for tremor',
  'no value': 'without a value',
  'other hold time': 'measured on other hold time than the rest',
}

/**
 * A trend in plain words with its numbers: what happened, the noise it is held against, how many sessions,
 * and what was not counted. It states measurements and gives no advice.
 *
 * @param required sessions a trend needs
 */
export function trendSentence(trend: Omit<Trend, 'sentence'>, required: number): string {
  const notes = [...familiarisationNote(trend), ...leftOutNote(trend)].map((note) => ` ${note}`).join('')
  return `${body(trend, required)}${notes}`
}

function body(trend: Omit<Trend, 'sentence'>, required: number): string {
  const label = TREND_MEASURES[trend.measure].label
  const { slopePer4Weeks: slope, mannKendall: test, change, baseline, counted, weekly } = trend
  if (!slope || !test || !change || !baseline || trend.verdict === 'too few sessions') {
    return tooFew(trend, required)
  }
  const amount = (value: number) => number(value, trend.unit)
  const unit = unitWords(trend.unit)
  const noise = `${signed(change.limits.fall, amount)} to ${signed(change.limits.rise, amount)} ${unit}`
  const newest = change.sessions === 1 ? 'newest session lies' : `newest ${change.sessions} sessions lie`
  const size = amount(Math.abs(change.value))
  const where = Number(size) === 0 ? 'level with' : `${size} ${unit} ${change.value < 0 ? 'below' : 'above'}`
  const comparison = `the ${newest} ${where} the first ${baseline.sessions}`
  const span = `${sessionCount(counted)} in ${weekly.length} weeks.`
  const held = change.beyondNoise ? 'beyond' : 'within'
  if (!(test.p < 0.05 && (slope.high < 0 || slope.low > 0))) {
    const interval = `95 % interval ${signed(slope.low, amount)} to ${signed(slope.high, amount)} ${unit}`
    const course = `${label}: no steady trend, ${signed(slope.value, amount)} ${unit} per 4 weeks (${interval})`
    const though = change.beyondNoise ? 'though ' : ''
    return `${course}; ${comparison}, ${though}${held} the day-to-day noise of ${noise}; ${span}`
  }
  const [near, far] = [slope.low, slope.high].map(Math.abs).sort((a, b) => a - b)
  const course =
    `${label} ${slope.value < 0 ? 'fell' : 'rose'} by ${amount(Math.abs(slope.value))} ${unit} per 4 weeks ` +
    `(95 % interval ${amount(near)} to ${amount(far)} ${unit})`
  const joint = trend.direction === null ? ', but' : ';'
  return `${course}${joint} ${comparison}, ${held} the day-to-day noise of ${noise}; ${span}`
}

function tooFew({ measure, counted, weekly }: Omit<Trend, 'sentence'>, required: number): string {
  const { label } = TREND_MEASURES[measure]
  if (counted < required) {
    return `${label}: ${sessionCount(counted)} ${counted === 1 ? 'counts' : 'count'} on this set-up; a trend needs ${required}.`
  }
  const weeks = `${weekly.length} ${weekly.length === 1 ? 'week' : 'weeks'}`
  return (
    `${label}: ${sessionCount(counted)} in ${weeks}; a trend needs ${MIN_VALUES_FOR_5_PERCENT} weeks, ` +
    'as with fewer even a steady course could be chance (p < 0.05 cannot be reached).'
  )
}

function familiarisationNote({ sessions }: Omit<Trend, 'sentence'>): string[] {
  const count = sessions.filter(({ part }) => part === 'familiarisation').length
  if (count === 0) return []
  return [`Not counted: ${sessionCount(count)} in the first ${FAMILIARISATION_WEEKS} weeks on this surface.`]
}

function leftOutNote({ sessions }: Omit<Trend, 'sentence'>): string[] {
  const parts = Object.entries(LEFT_OUT_WORDS).flatMap(([reason, words]) => {
    const count = sessions.filter(({ leftOut }) => leftOut === reason).length
    return count === 0 ? [] : [`${sessionCount(count)} ${words}`]
  })
  return parts.length === 0 ? [] : [`Left out: ${parts.join(', ')}.`]
}

function sessionCount(count: number): string {
  return `${count} ${count === 1 ? 'session' : 'sessions'}`
}

/** Shares are told in percentage points. */
function unitWords(unit: string): string {
  return unit === '1' ? 'percentage points' : unit
}

/** Whole numbers from 10 on, one decimal below: more would be noise. */
function number(value: number, unit: string): string {
  const shown = unit === '1' ? 100 * value : value
  return Math.abs(shown) < 9.95 ? shown.toFixed(1) : shown.toFixed(0)
}

function signed(value: number, amount: (value: number) => string): string {
  const text = amount(Math.abs(value))
  if (Number(text) === 0) return text
  return value < 0 ? `−${text}` : `+${text}`
}
