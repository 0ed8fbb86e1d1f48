import type { TrendLine } from '#protocol/trends'
import type { TrendPart } from '#signal/trend/trend-sessions'
import { WEEK_US } from '#signal/trend/weekly'
import { axisTicks } from '../axis-ticks'
import { noiseBand } from './noise-band'
import { pointMark } from './point-marks'
import { slopeLine } from './slope-line'
import type { TimeSpan } from './time-axis'

/** Values of the measure, in its unit. */
export interface ValueRange {
  readonly low: number
  readonly high: number
}

export interface Frame extends TimeSpan {
  readonly left: number
  readonly right: number
  readonly top: number
  readonly bottom: number
  readonly values: ValueRange
  readonly log: boolean
}

/** Many points are drawn smaller. */
const MANY_POINTS = 600
const DAY_MS = 864e5

export function xOf({ fromMs, toMs, left, right }: Frame, atMs: number): number {
  return left + ((atMs - fromMs) / (toMs - fromMs)) * (right - left)
}

export function yOf({ values: { low, high }, log, top, bottom }: Frame, value: number): number {
  const share = log
    ? Math.log(Math.max(value, low / 1e3) / low) / Math.log(high / low)
    : (value - low) / (high - low)
  return bottom - Math.min(1.02, Math.max(-0.02, share)) * (bottom - top)
}

/** From the first to the last session of the lines, with a little room. */
export function timeSpanOf(lines: readonly TrendLine[]): TimeSpan {
  let fromMs = Infinity
  let toMs = -Infinity
  for (const { trend } of lines) {
    const { sessions } = trend
    if (sessions.length === 0) continue
    fromMs = Math.min(fromMs, sessions[0].startedAtUs / 1000)
    toMs = Math.max(toMs, sessions[sessions.length - 1].startedAtUs / 1000)
  }
  const room = Math.max(3 * DAY_MS, (toMs - fromMs) * 0.02)
  return { fromMs: fromMs - room, toMs: toMs + room }
}

/** What the picture of the lines has to hold; null when no session has a value. */
export function valueRangeOf(lines: readonly TrendLine[]): ValueRange | null {
  let low = Infinity
  let high = -Infinity
  const take = (value: number) => {
    low = Math.min(low, value)
    high = Math.max(high, value)
  }
  for (const { trend } of lines) {
    // What is left out may lie far off: it is drawn at the edge rather than squeezing the rest.
    const some = trend.counted > 0 || trend.sessions.some(({ part }) => part === 'familiarisation')
    for (const { value, part } of trend.sessions) {
      if (some && part === 'left out') continue
      if (value !== null && (trend.scale === 'linear' || value > 0)) take(value)
    }
    const noise = noiseBand(trend)
    if (noise) {
      take(noise.low)
      take(noise.high)
    }
  }
  if (low === Infinity) return null
  if (lines[0].trend.scale === 'log') {
    const room = Math.max(1.02, (high / low) ** 0.06)
    return { low: low / room, high: high * room }
  }
  const room = Math.max((high - low) * 0.06, high * 0.02, 1e-6)
  // Hold times and shares are never below nothing.
  return { low: Math.max(0, low - room), high: high + room }
}

/** Ticks on round numbers of the unit shown. */
export function valueTicks({ low, high }: ValueRange, factor: number): number[] {
  return axisTicks(low * factor, high * factor, 6).filter(
    (tick) => tick >= low * factor && tick <= high * factor,
  )
}

/** SVG path data of everything in a picture, one path per kind: thousands of sessions are few elements. */
export interface TrendPicture {
  readonly points: Readonly<Record<TrendPart, string>>
  readonly weeks: string
  readonly slope: string | null
  readonly slopeBand: string | null
  readonly ewma: string | null
  readonly ewmaLimits: string | null
  readonly ewmaOutside: string | null
  /** y of the baseline mean and of the smallest detectable change about it. */
  readonly noise: { mean: number; low: number; high: number } | null
}

export function trendPicture(line: TrendLine, frame: Frame): TrendPicture {
  const { trend } = line
  const x = (atMs: number) => xOf(frame, atMs).toFixed(1)
  const y = (value: number) => yOf(frame, value).toFixed(1)
  const size = trend.sessions.length > MANY_POINTS ? 2 : 3.5
  const points: Record<TrendPart, string> = {
    baseline: '',
    later: '',
    newest: '',
    familiarisation: '',
    'left out': '',
  }
  for (const { startedAtUs, value, part } of trend.sessions) {
    if (value !== null)
      points[part] += pointMark(part, xOf(frame, startedAtUs / 1000), yOf(frame, value), size)
  }
  let weeks = ''
  for (const { startUs, value } of trend.weekly) {
    // The first and the last week reach beyond the sessions, and so beyond the picture.
    const fromMs = Math.max(frame.fromMs, startUs / 1000)
    const toMs = Math.min(frame.toMs, (startUs + WEEK_US) / 1000)
    weeks += `M${x(fromMs)} ${y(value)}H${x(toMs)}`
  }
  const slope = slopeLine(trend)
  const noise = noiseBand(trend)
  return {
    points,
    weeks,
    slope: slope && `M${x(slope.fromMs)} ${y(slope.ends[0])}L${x(slope.toMs)} ${y(slope.ends[1])}`,
    slopeBand:
      slope &&
      `M${x(slope.fromMs)} ${y(slope.low[0])}L${x(slope.toMs)} ${y(slope.low[1])}` +
        `V${y(slope.high[1])}L${x(slope.fromMs)} ${y(slope.high[0])}Z`,
    ...ewmaPaths(line, x, y),
    noise: noise && {
      mean: yOf(frame, noise.mean),
      low: yOf(frame, noise.low),
      high: yOf(frame, noise.high),
    },
  }
}

function ewmaPaths({ trend, ewma }: TrendLine, x: (atMs: number) => string, y: (value: number) => string) {
  if (ewma === null) return { ewma: null, ewmaLimits: null, ewmaOutside: null }
  const counted = trend.sessions.filter(({ part }) => part !== 'left out' && part !== 'familiarisation')
  const at = (k: number) => x(counted[k].startedAtUs / 1000)
  const path = (values: readonly number[]) =>
    values.map((value, k) => `${k === 0 ? 'M' : 'L'}${at(k)} ${y(value)}`).join('')
  return {
    ewma: path(ewma.ewma),
    ewmaLimits: path(ewma.low) + path(ewma.high),
    ewmaOutside: ewma.outside.map((k) => `M${at(k)} ${y(ewma.ewma[k])}m0 -5v10`).join(''),
  }
}
