import type { Trend } from '#signal/trend/trend-types'
import type { TrendPart } from '#signal/trend/trend-sessions'
import { axisTicks, tickDecimals } from '../axis-ticks'
import { decimal } from '../format'
import { momentsOf, shortDay } from './period'
import type { Period } from './period'

/** In CSS px; drawn one to one on paper, so that its smallest words have 8 pt. */
export const PICTURE = { width: 224, height: 104, left: 34, right: 5, top: 6, bottom: 28 } as const

export interface TrendPicture {
  readonly points: readonly { readonly x: number; readonly y: number; readonly part: TrendPart }[]
  /** Noise of single sessions about the mean of the baseline. */
  readonly band: { readonly y: number; readonly height: number; readonly middle: number } | null
  /** Weekly medians of what counts, as the test takes them. */
  readonly line: string
  readonly ticks: readonly { readonly y: number; readonly words: string }[]
  readonly fromWords: string
  readonly toWords: string
  /** Mornings after which the dog was tired or sore, changes of the plan: letters below the axis. */
  readonly letters: readonly { readonly x: number; readonly letter: string }[]
  /** The same in words. */
  readonly words: string
}

export interface Letter {
  readonly atMs: number
  readonly letter: string
}

const WEEK_MIDDLE_MS = 3.5 * 86_400_000

/**
 * Sway to compare over the period; null without a single value. The axis begins at 0: half the height is half
 * the sway.
 *
 * @param factor from m/s² to the unit shown
 */
export function trendPicture(
  trend: Trend,
  { factor, unit, period, letters }: { factor: number; unit: string; period: Period; letters: Letter[] },
): TrendPicture | null {
  const drawn = trend.sessions.filter(({ value, part }) => value !== null && part !== 'left out')
  if (drawn.length === 0) return null
  const { fromMs, toMs } = momentsOf(period)
  const limits = trend.baseline && {
    low: trend.baseline.mean * (1 + trend.baseline.mdc95.fall / 100),
    high: trend.baseline.mean * (1 + trend.baseline.mdc95.rise / 100),
  }
  const most = Math.max(limits?.high ?? 0, ...drawn.map(({ value }) => value ?? 0)) * factor * 1.05 || 1
  const { width, height, left, right, top, bottom } = PICTURE
  const x = (ms: number) => round(left + 4 + ((ms - fromMs) / (toMs - fromMs)) * (width - left - right - 8))
  const y = (value: number) => round(height - bottom - (value / most) * (height - top - bottom))
  const ticks = axisTicks(0, most, 3)
  const inPeriod = (ms: number) => Math.min(Math.max(ms, fromMs), toMs)
  return {
    points: drawn.map(({ startedAtUs, value, part }) => ({
      x: x(startedAtUs / 1000),
      y: y(value! * factor),
      part,
    })),
    band: limits && {
      y: y(limits.high * factor),
      height: round(y(limits.low * factor) - y(limits.high * factor)),
      middle: y(trend.baseline!.mean * factor),
    },
    line: trend.weekly
      .map(({ startUs, value }) => `${x(inPeriod(startUs / 1000 + WEEK_MIDDLE_MS))},${y(value * factor)}`)
      .join(' '),
    ticks: ticks.map((tick) => ({ y: y(tick), words: decimal(tick, tickDecimals(ticks)) })),
    fromWords: shortDay(period.fromDay),
    toWords: shortDay(period.toDay),
    letters: spaced(
      letters
        .filter(({ atMs }) => atMs >= fromMs && atMs < toMs)
        .map(({ atMs, letter }) => ({ x: x(atMs), letter })),
    ),
    words: `Sway in ${unit} of ${drawn.length} sessions from ${shortDay(period.fromDay)} to ${shortDay(period.toDay)}; its numbers are in the table.`,
  }
}

const LETTER_PX = 8

/** Letters closer than their width would cover one another: the later one of such a pair is moved or left out. */
function spaced(letters: { x: number; letter: string }[]): { x: number; letter: string }[] {
  const placed: { x: number; letter: string }[] = []
  for (const one of letters.sort((a, b) => a.x - b.x)) {
    const least = (placed.at(-1)?.x ?? -Infinity) + LETTER_PX
    const at = Math.max(one.x, least)
    if (at - one.x <= LETTER_PX && at <= PICTURE.width - PICTURE.right) {
      placed.push({ ...one, x: round(at) })
    }
  }
  return placed
}

const round = (px: number) => Math.round(px * 10) / 10
