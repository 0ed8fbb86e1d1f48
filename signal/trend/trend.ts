import { median } from 'simple-statistics'
import { mdc95, ownMdc95, ownNoise } from './detectable-change.ts'
import type { OwnNoise } from './detectable-change.ts'
import { mannKendall, MIN_VALUES_FOR_5_PERCENT } from './mann-kendall.ts'
import { TREND_MEASURES } from './measures.ts'
import { theilSen } from './theil-sen.ts'
import type { TrendPoint } from './trend-point.ts'
import { trendSentence } from './trend-sentence.ts'
import { selectSessions } from './trend-sessions.ts'
import type { CountedPoint, Selection, TrendSession } from './trend-sessions.ts'
import type { Baseline, Change, Interval, NoiseLimits, Trend, TrendOptions, Verdict } from './trend-types.ts'
import { weeklyMedians } from './weekly.ts'
import type { WeeklyValue } from './weekly.ts'

/** Fewer counted sessions than this carry no trend. */
export const MIN_SESSIONS = 6

const DEFAULT_BASELINE_SESSIONS = 5
const NEWEST_SESSIONS = 3
const SIGNIFICANCE = 0.05

/** Relative differences below this are rounding of the computation. */
const ROUNDING = 1e-12

/** Slopes are given per this many weeks. */
const SLOPE_WEEKS = 4

/** Variance of the median of 1, 2 and 3 normal values in units of that of one (closed form for 3). */
const MEDIAN_VARIANCE = [1, 1 / 2, 1 - Math.sqrt(3) / Math.PI]

/**
 * Trend of one measure over the sessions of one set-up.
 *
 * Left out and counted as such: sessions a person excluded, those without a value, weak ones, those measured on other hold time than
 * most, and for tremor those with a look-alike. The three weeks after the first stand on an unstable surface
 * are familiarisation (sway on a moving platform falls from week to week at first: Wolszky et al. 2024, Vet
 * Sci 11:498): marked, and kept out of everything below, so that learning is not taken for steadiness.
 *
 * Ratio-scaled measures are analysed on natural logs. Slope, Sen's interval and Mann–Kendall take one value
 * per calendar week, the median of its sessions. Baseline: the first k sessions (5); newest: the last 3
 * after the baseline, or as many as there are.
 *
 * Verdict:
 * - 'too few sessions' when fewer than 6 count (or k + 1, if that is more), or they lie in fewer than 5
 *   weeks, as then no order of values can reach p < 0.05;
 * - a change ('steadier', 'less steady', and so on by measure) when all of these agree in direction:
 *   Mann–Kendall p < 0.05; Sen's 95 % interval without 0; median of the newest sessions further from the
 *   baseline mean than MDC₉₅ of that comparison, t₀.₉₇₅,ₖ₋₁ · SEM · √(1/k + v), v the variance of the
 *   median (1, 1/2, 1 − √3/π for 1 to 3 sessions);
 * - otherwise 'no change beyond noise'.
 *
 * On courses without change and 15 % day-to-day noise, 16 weeks of 4 sessions, the verdict is wrong in about
 * 1 %, and in 3 % when neighbouring sessions correlate by 0.5 (11 % at 0.8); a fall of 4 % a week is found in
 * 95 %, in 85 % after three weeks of familiarisation, but in 8 weeks only in 31 % (seeded simulation,
 * tests/signal/trend/trend-statistics.test.ts).
 *
 * The length of the history does not matter much: over three years of two sessions a day without change it is
 * wrong in about 2 %, and in some 2 and 7 % when each day resembles the one before by 0.5 and 0.8
 * (tests/signal/trend/long-histories.test.ts). A baseline of years ago answers how the dog is against then; to ask
 * about the last months, give the points of these months alone: the first of them are then the baseline, while
 * `unstableSurfaceSinceUs` stays the first stand ever.
 *
 * The MDC₉₅ of single sessions (`baseline.mdc95`, Weir) is given for charts; it does not decide, since what
 * is compared are a mean and a median, and a SEM from 5 sessions needs t in place of 1.96.
 *
 * @param points any order; all of one set-up
 * @throws {RangeError} if set-ups are mixed, a value is negative or not finite, or baselineSessions is no
 * whole number of at least 3
 * @see Sen 1968; Mann 1945; Weir 2005, J. Strength Cond. Res. 19:231–240
 */
export function trendOf(points: readonly TrendPoint[], options: TrendOptions): Trend {
  const { measure, baselineSessions = DEFAULT_BASELINE_SESSIONS, unstableSurfaceSinceUs } = options
  const scale = options.scale ?? TREND_MEASURES[measure].scale
  if (!Number.isInteger(baselineSessions) || baselineSessions < 3) {
    throw new RangeError(`trendOf requires a whole baselineSessions >= 3, got ${baselineSessions}`)
  }
  const selection = selectSessions(points, {
    measure,
    scale,
    unstableSurfaceSinceUs,
    includeLookAlikes: options.includeLookAlikes ?? false,
  })
  const { counted } = selection
  const axis = scale === 'log' ? LOG : LINEAR
  const weekly = weeklyMedians(
    counted.map(({ startedAtUs, value }) => ({ atUs: startedAtUs, value: axis.into(value) })),
  )
  const required = Math.max(MIN_SESSIONS, baselineSessions + 1)
  const enough = counted.length >= required
  const noise = enough ? ownNoise(counted.slice(0, baselineSessions).map((s) => axis.into(s.value))) : null
  const result = {
    measure,
    scale,
    unit: scale === 'log' ? '%' : TREND_MEASURES[measure].unit,
    sessions: sessionParts(selection, enough ? baselineSessions : 0),
    counted: counted.length,
    weekly: weekly.map((week) => ({ ...week, value: axis.back(week.value) })),
    slopePer4Weeks: weekly.length < 2 ? null : slopeOf(weekly, axis),
    mannKendall: weekly.length < 2 ? null : mannKendall(weekly.map(({ value }) => value)),
    baseline: noise && baselineOf(noise, axis),
    change: noise && changeOf(noise, counted, axis),
  }
  const direction = directionOf(result)
  const verdict: Verdict =
    !enough || weekly.length < MIN_VALUES_FOR_5_PERCENT
      ? 'too few sessions'
      : direction === null
        ? 'no change beyond noise'
        : TREND_MEASURES[measure][direction]
  const decided = { ...result, direction: verdict === 'too few sessions' ? null : direction, verdict }
  return { ...decided, sentence: trendSentence(decided, required) }
}

/** Where values are analysed, and how a change there is told. */
interface Axis {
  readonly into: (value: number) => number
  readonly back: (value: number) => number
  readonly change: (difference: number) => number
}

const LOG: Axis = { into: Math.log, back: Math.exp, change: (difference) => 100 * Math.expm1(difference) }
const LINEAR: Axis = { into: (value) => value, back: (value) => value, change: (difference) => difference }

function slopeOf(weekly: readonly WeeklyValue[], axis: Axis): Interval {
  const fit = theilSen(
    weekly.map(({ week }) => week),
    weekly.map(({ value }) => value),
  )
  const [value, low, high] = [fit.slope, fit.low, fit.high].map((slope) => axis.change(SLOPE_WEEKS * slope))
  return { value, low, high }
}

function limitsOf(reach: number, axis: Axis): NoiseLimits {
  return { fall: axis.change(-reach), rise: axis.change(reach) }
}

function baselineOf({ mean, sem, dof }: OwnNoise, axis: Axis): Baseline {
  return { sessions: dof + 1, mean: axis.back(mean), sem, mdc95: limitsOf(mdc95(sem), axis) }
}

function changeOf(noise: OwnNoise, counted: readonly CountedPoint[], axis: Axis): Change {
  const k = noise.dof + 1
  const newest = counted.slice(Math.max(k, counted.length - NEWEST_SESSIONS))
  const middle = median(newest.map(({ value }) => axis.into(value)))
  const difference = middle - noise.mean
  const reach = ownMdc95(noise, 1 / k, MEDIAN_VARIANCE[newest.length - 1])
  return {
    value: axis.change(difference),
    newest: axis.back(middle),
    sessions: newest.length,
    limits: limitsOf(reach, axis),
    // Of equal values the mean is off by rounding, and no noise at all is left to hold it against.
    beyondNoise: Math.abs(difference) > reach + ROUNDING * Math.abs(noise.mean),
  }
}

/** The way everything agrees on, or null. */
function directionOf({
  slopePer4Weeks: slope,
  mannKendall: test,
  change,
}: Pick<Trend, 'slopePer4Weeks' | 'mannKendall' | 'change'>): 'fall' | 'rise' | null {
  if (!slope || !test || !change?.beyondNoise || !(test.p < SIGNIFICANCE)) return null
  if (slope.high < 0 && test.s < 0 && change.value < 0) return 'fall'
  return slope.low > 0 && test.s > 0 && change.value > 0 ? 'rise' : null
}

function sessionParts(
  { ordered, counted, familiarisation, leftOut }: Selection,
  baselineSessions: number,
): TrendSession[] {
  const newestFrom = Math.max(baselineSessions, counted.length - NEWEST_SESSIONS)
  const places = new Map<TrendPoint, number>(counted.map((point, place) => [point, place]))
  const learning = new Set(familiarisation)
  return ordered.map((point) => {
    const reason = leftOut.get(point) ?? null
    if (reason !== null) return { ...point, part: 'left out', leftOut: reason }
    if (learning.has(point)) return { ...point, part: 'familiarisation', leftOut: null }
    const place = places.get(point)!
    const hasBaseline = baselineSessions > 0
    const part =
      place < baselineSessions ? 'baseline' : hasBaseline && place >= newestFrom ? 'newest' : 'later'
    return { ...point, part, leftOut: null }
  })
}
