import { createRandom } from '#signal/simulator/random'
import type { TrendPoint } from '#signal/trend/trend-point'

/** Monday 2026-01-05, 17:00 UTC, µs. */
export const START_US = Date.UTC(2026, 0, 5, 17) * 1000
export const DAY_US = 86_400_000_000

/** Days of a week on which there is a session: Monday, Wednesday, Friday, Saturday. */
const SESSION_DAYS = [0, 2, 4, 5]

export interface SeriesOptions {
  readonly seed: string
  readonly weeks?: number
  readonly sessionsPerWeek?: number
  /** Of the logarithm, per week. */
  readonly slopePerWeek?: number
  /** SD of the logarithm from session to session. */
  readonly noise?: number
  /** Correlation of that noise from one session to the next. */
  readonly serial?: number
}

/** A made course of a positive measure of 0.1: a straight line and normal noise on its logarithm. */
export function series(options: SeriesOptions): TrendPoint[] {
  const { seed, weeks = 16, sessionsPerWeek = 4, slopePerWeek = 0, noise = 0.15, serial = 0 } = options
  const random = createRandom(seed)
  let deviation = random.normal()
  return Array.from({ length: weeks * sessionsPerWeek }, (_, i) => {
    if (i > 0) deviation = serial * deviation + Math.sqrt(1 - serial ** 2) * random.normal()
    const day = 7 * Math.floor(i / sessionsPerWeek) + SESSION_DAYS[i % sessionsPerWeek]
    return point(day, 0.1 * Math.exp((slopePerWeek * day) / 7 + noise * deviation))
  })
}

/** A session `day` days after the start that counts. */
export function point(day: number, value: number | null, changes: Partial<TrendPoint> = {}): TrendPoint {
  return {
    startedAtUs: START_US + day * DAY_US,
    setUp: 'foam pad, 6 cm',
    value,
    weak: false,
    lookAlike: false,
    excluded: false,
    basis: 'hands-off hold time',
    ...changes,
  }
}
