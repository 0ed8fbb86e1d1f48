import { describe, expect, it } from 'vitest'
import { trendOf } from '#signal/trend/trend'
import type { Trend } from '#signal/trend/trend-types'
import { series, START_US } from './series.ts'
import type { SeriesOptions } from './series.ts'

/** Trends of seeded series that differ in their noise only. */
function trends(
  count: number,
  options: Omit<SeriesOptions, 'seed'>,
  unstableSurfaceSinceUs: number | null = null,
): Trend[] {
  return Array.from({ length: count }, (_, i) =>
    trendOf(series({ ...options, seed: `trend ${i}` }), { measure: 'swayRms', unstableSurfaceSinceUs }),
  )
}

const share = (all: Trend[], is: (trend: Trend) => boolean) => all.filter(is).length / all.length
const changed = ({ direction }: Trend) => direction !== null

// Day-to-day noise of 15 % SD throughout; binomial error of 2000 series at 5 % is 0.5 %.
describe('the verdict on courses without change', () => {
  const still = trends(2000, {})

  it('is wrong in at most 5 % of 16-week courses', () => {
    expect(share(still, changed)).toBeLessThanOrEqual(0.05)
  })

  it('has each of its criteria alone near the 5 % it states', () => {
    const beyondNoise = share(still, ({ change }) => change!.beyondNoise)
    expect(beyondNoise).toBeGreaterThan(0.035)
    expect(beyondNoise).toBeLessThan(0.065)
    // Mann–Kendall with continuity correction stays a little below.
    const significant = share(still, ({ mannKendall }) => mannKendall!.p < 0.05)
    expect(significant).toBeGreaterThan(0.02)
    expect(significant).toBeLessThan(0.06)
    const covered = share(
      still,
      ({ slopePer4Weeks }) => slopePer4Weeks!.low <= 0 && slopePer4Weeks!.high >= 0,
    )
    expect(covered).toBeGreaterThan(0.93)
  })

  it.each([
    { weeks: 6, sessionsPerWeek: 1 },
    { weeks: 6, sessionsPerWeek: 4 },
    { weeks: 8, sessionsPerWeek: 2 },
    { weeks: 26, sessionsPerWeek: 4 },
  ])('is wrong in at most 5 % of courses of $weeks weeks, $sessionsPerWeek a week', (length) => {
    expect(share(trends(1000, length), changed)).toBeLessThanOrEqual(0.05)
  })

  it('is wrong in at most 5 % when neighbouring sessions resemble one another (correlation 0.5)', () => {
    expect(share(trends(1000, { serial: 0.5 }), changed)).toBeLessThanOrEqual(0.05)
  })
})

describe('the verdict on steady courses', () => {
  const slopePerWeek = Math.log(0.96)

  it('finds a fall of 4 % a week over 16 weeks in at least 90 % of courses, and never calls it a rise', () => {
    const falling = trends(1000, { slopePerWeek })
    expect(share(falling, ({ verdict }) => verdict === 'steadier')).toBeGreaterThanOrEqual(0.9)
    expect(share(falling, ({ verdict }) => verdict === 'less steady')).toBe(0)
  })

  it('finds a rise of the same size as often', () => {
    const rising = trends(1000, { slopePerWeek: -slopePerWeek })
    expect(share(rising, ({ verdict }) => verdict === 'less steady')).toBeGreaterThanOrEqual(0.9)
  })

  it('holds the true slope in the 95 % interval in about 95 % of courses', () => {
    const truth = 100 * (0.96 ** 4 - 1)
    const falling = trends(1000, { slopePerWeek })
    const covered = share(
      falling,
      ({ slopePer4Weeks }) => slopePer4Weeks!.low <= truth && slopePer4Weeks!.high >= truth,
    )
    expect(covered).toBeGreaterThan(0.93)
    expect(covered).toBeLessThan(0.99)
  })
})

// The docstring of trendOf states these shares so that nobody expects more of a verdict than it can give.
// 3 %: two to three binomial errors of 1000 series.
describe('what the docstring says about the verdict', () => {
  const fall = Math.log(0.96)
  it.each([
    { what: '1 % wrong without change', options: {}, since: null, stated: 0.01 },
    { what: '3 % wrong at correlation 0.5', options: { serial: 0.5 }, since: null, stated: 0.03 },
    { what: '11 % wrong at correlation 0.8', options: { serial: 0.8 }, since: null, stated: 0.11 },
    { what: '95 % found in 16 weeks', options: { slopePerWeek: fall }, since: null, stated: 0.95 },
    {
      what: '85 % found after familiarisation',
      options: { slopePerWeek: fall },
      since: START_US,
      stated: 0.85,
    },
    { what: '31 % found in 8 weeks', options: { slopePerWeek: fall, weeks: 8 }, since: null, stated: 0.31 },
  ])('is true: $what', ({ options, since, stated }) => {
    expect(Math.abs(share(trends(1000, options, since), changed) - stated)).toBeLessThan(0.03)
  })
})
