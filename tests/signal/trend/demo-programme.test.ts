import { beforeAll, describe, expect, it } from 'vitest'
import { analyse } from '#signal/report'
import type { Report } from '#signal/report-types'
import { DEMO_COURSE, demoSessionScripts } from '#signal/simulator/programme'
import type { DemoSession } from '#signal/simulator/programme'
import { createRandom } from '#signal/simulator/random'
import { simulateSession } from '#signal/simulator/session'
import type { MeasureName } from '#signal/trend/measures'
import { trendOf } from '#signal/trend/trend'
import { trendPointOf } from '#signal/trend/trend-point'
import type { TrendPoint } from '#signal/trend/trend-point'
import type { Trend } from '#signal/trend/trend-types'

// By construction: sway falls by 4 % a week, a third more in weeks 7 and 8, foam pad to week 8, rocker
// board from week 9 on, tremor stable.
const PROGRAMME = demoSessionScripts(Date.UTC(2026, 5, 1) * 1000)
const EXERCISES = ['stand on foam pad', 'fore paws on rocker board'] as const
const TRUE_PERCENT_PER_4_WEEKS = 100 * (DEMO_COURSE.weeklyFactor ** 4 - 1)

const firstOn = (exercise: string) => PROGRAMME.find((session) => session.exercise === exercise)!.startedAtUs
const setUpFactor = ({ week }: DemoSession) =>
  week >= DEMO_COURSE.rockerFromWeek ? DEMO_COURSE.rockerFactor : 1

describe('the demo programme by its truth and 12 % noise of measurement', () => {
  const ROUNDS = 200

  /** One point per session: its true value with noise on its logarithm. */
  function noisy(
    sessions: readonly DemoSession[],
    round: number,
    value: (session: DemoSession) => number,
    setUp: string,
  ): TrendPoint[] {
    const random = createRandom(`demo trend ${round}`)
    return sessions.map((session) => ({
      startedAtUs: session.startedAtUs,
      setUp,
      value: value(session) * Math.exp(0.12 * random.normal()),
      weak: false,
      lookAlike: false,
      excluded: false,
      basis: 'hands-off hold time',
    }))
  }

  function trendsOn(
    exercise: string,
    measure: MeasureName,
    value: (session: DemoSession) => number,
  ): Trend[] {
    const sessions = PROGRAMME.filter((session) => session.exercise === exercise)
    return Array.from({ length: ROUNDS }, (_, round) =>
      trendOf(noisy(sessions, round, value, exercise), {
        measure,
        unstableSurfaceSinceUs: firstOn(exercise),
      }),
    )
  }

  const shareOf = (trends: Trend[], is: (trend: Trend) => boolean) => trends.filter(is).length / trends.length
  const sway = ({ truth }: DemoSession) => truth.swayMs2
  const tremor = ({ truth }: DemoSession) => truth.tremorMs2

  // Five weeks are left after familiarisation: on the foam pad the bad fortnight ends them, on the rocker
  // board a fall of 4 % a week is less than day-to-day noise.
  it.each(EXERCISES)('shows no change of sway or tremor beyond noise within eight weeks: %s', (exercise) => {
    for (const [measure, value] of [
      ['swayRms', sway],
      ['tremorRms', tremor],
    ] as const) {
      const trends = trendsOn(exercise, measure, value)
      expect(
        shareOf(trends, ({ verdict }) => verdict === 'no change beyond noise'),
        measure,
      ).toBeGreaterThan(0.93)
      expect(trends[0].sessions.filter(({ part }) => part === 'familiarisation')).toHaveLength(12)
      expect(trends[0].weekly).toHaveLength(5)
    }
  })

  it('holds the true slope of the rocker board in the 95 % interval in at least 93 % of rounds', () => {
    const trends = trendsOn('fore paws on rocker board', 'swayRms', sway)
    const covered = shareOf(
      trends,
      ({ slopePer4Weeks }) =>
        slopePer4Weeks!.low <= TRUE_PERCENT_PER_4_WEEKS && slopePer4Weeks!.high >= TRUE_PERCENT_PER_4_WEEKS,
    )
    expect(covered).toBeGreaterThan(0.93)
  })

  // Bounds set below the measured 0.79 and 0.995: the fall left after familiarisation is 12 weeks long, and the
  // day's own ups and downs of the baseline are the same in every round.
  it.each([
    { known: false, least: 0.75 },
    { known: true, least: 0.9 },
  ])(
    'would be steadier over 16 weeks on one set-up, despite the bad fortnight, in $least of rounds (surface known: $known)',
    ({ known, least }) => {
      const oneSetUp = (session: DemoSession) => session.truth.swayMs2 / setUpFactor(session)
      const trends = Array.from({ length: ROUNDS }, (_, round) =>
        trendOf(noisy(PROGRAMME, round, oneSetUp, 'one set-up'), {
          measure: 'swayRms',
          unstableSurfaceSinceUs: known ? null : PROGRAMME[0].startedAtUs,
        }),
      )
      const steadier = shareOf(trends, ({ verdict }) => verdict === 'steadier')
      expect(steadier).toBeGreaterThanOrEqual(least)
      expect(shareOf(trends, ({ verdict }) => verdict === 'less steady')).toBe(0)
    },
  )
})

describe('the demo programme simulated and analysed, 20 sessions after familiarisation', () => {
  const isKept = ({ week }: DemoSession, index: number) =>
    index % 2 === 0 && ((week >= 4 && week <= 8) || week >= 12)
  const kept = PROGRAMME.filter(isKept)
  let reports: Report[]
  beforeAll(() => {
    reports = kept.map(
      ({ script }) => analyse({ trace: simulateSession(script).trace, unit: 'm/s²' }, {}).report,
    )
  }, 60_000)

  function points(measure: MeasureName, is: (session: DemoSession) => boolean, setUp: string): TrendPoint[] {
    return kept.flatMap((session, i) =>
      is(session)
        ? trendPointOf(reports[i], { startedAtUs: session.startedAtUs, setUp, excluded: false }, measure)
        : [],
    )
  }

  it.each(EXERCISES)('shows no change of sway beyond noise: %s', (exercise) => {
    const trend = trendOf(
      points('swayRms', (session) => session.exercise === exercise, exercise),
      { measure: 'swayRms', unstableSurfaceSinceUs: firstOn(exercise) },
    )
    expect(trend).toMatchObject({ verdict: 'no change beyond noise', counted: 10 })
    expect(trend.mannKendall!.n).toBe(5)
  })

  it('shows sway steadier once the known factor of the rocker board is taken out', () => {
    const all = points('swayRms', () => true, 'one set-up')
    const levelled = all.map((point, i) => ({ ...point, value: point.value! / setUpFactor(kept[i]) }))
    const trend = trendOf(levelled, { measure: 'swayRms', unstableSurfaceSinceUs: null })
    expect(trend.verdict).toBe('steadier')
    expect(trend.slopePer4Weeks!.low).toBeLessThan(TRUE_PERCENT_PER_4_WEEKS)
    expect(trend.slopePer4Weeks!.high).toBeGreaterThan(TRUE_PERCENT_PER_4_WEEKS)
  })

  it('shows tremor unchanged and keeps the sessions with panting out of it', () => {
    const trend = trendOf(
      points('tremorRms', () => true, 'one set-up'),
      { measure: 'tremorRms', unstableSurfaceSinceUs: null },
    )
    expect(trend.verdict).toBe('no change beyond noise')
    const panting = trend.sessions.filter(({ leftOut }) => leftOut === 'look-alike')
    expect(panting).toHaveLength(4)
    // What tremor figure they have is of their clean pieces: none carries the panting.
    for (const { value } of panting) expect(value ?? 0).toBeLessThan(1.5 * DEMO_COURSE.tremorMs2)
    expect(trend.sentence).toContain('4 sessions with panting, wagging or handling that can pass for tremor')
  })
})
