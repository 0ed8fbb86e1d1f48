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

// By construction: sway falls by 4 % a week, a third more in weeks 7 and 8; tremor stable; foam pad in all sixteen
// weeks, one session a week on the rocker board from week 9 on.
const END_US = Date.UTC(2026, 5, 1) * 1000
const DAY_US = 86_400_000_000
const TRUE_PERCENT_PER_4_WEEKS = 100 * (DEMO_COURSE.weeklyFactor ** 4 - 1)
const FOAM = 'stand on foam pad'
const ROCKER = 'fore paws on rocker board'

const on = (exercise: string, sessions: readonly DemoSession[]) =>
  sessions.filter((session) => session.exercise === exercise)

function trendFor(points: TrendPoint[], measure: MeasureName): Trend {
  return trendOf(points, { measure, unstableSurfaceSinceUs: points[0].startedAtUs })
}

const shareOf = (trends: Trend[], is: (trend: Trend) => boolean) => trends.filter(is).length / trends.length
const holdsTruth = ({ slopePer4Weeks }: Trend) =>
  slopePer4Weeks!.low <= TRUE_PERCENT_PER_4_WEEKS && slopePer4Weeks!.high >= TRUE_PERCENT_PER_4_WEEKS

/** What measuring adds to the day's truth on the logarithm: as found below on simulated recordings. */
const MEASURING_SD = 0.09

describe('the demo programme by its truth and the noise of measurement', () => {
  /** Sixty runs of the course, on every day of the week in turn. */
  const RUNS = Array.from({ length: 60 }, (_, run) => demoSessionScripts(END_US + run * DAY_US, `run ${run}`))

  function trendsOn(exercise: string, measure: MeasureName, value: (truth: DemoSession['truth']) => number) {
    return RUNS.map((programme, run) => {
      const random = createRandom(`measured ${run}`)
      const points = on(exercise, programme).map(({ startedAtUs, truth }): TrendPoint => ({
        startedAtUs,
        setUp: exercise,
        value: value(truth) * Math.exp(MEASURING_SD * random.normal()),
        weak: false,
        lookAlike: false,
        excluded: truth.slipped,
        basis: 'hands-off hold time',
      }))
      return trendFor(points, measure)
    })
  }

  it('shows sway on the foam pad steadier in nearly every run, and less steady in none', () => {
    const trends = trendsOn(FOAM, 'swayRms', ({ swayMs2 }) => swayMs2)
    expect(shareOf(trends, ({ verdict }) => verdict === 'steadier')).toBeGreaterThanOrEqual(0.95)
    expect(shareOf(trends, ({ verdict }) => verdict === 'less steady')).toBe(0)
    // The bad fortnight lies before the middle: it makes the fall a little steeper, and coverage a little less.
    expect(shareOf(trends, holdsTruth)).toBeGreaterThanOrEqual(0.9)
    for (const { counted, sessions } of trends) {
      expect(counted).toBe(43)
      expect(sessions.filter(({ part }) => part === 'familiarisation')).toHaveLength(12)
      expect(sessions.filter(({ leftOut }) => leftOut === 'excluded by a person')).toHaveLength(1)
    }
  })

  it('shows tremor on the foam pad unchanged', () => {
    const trends = trendsOn(FOAM, 'tremorRms', ({ tremorMs2 }) => tremorMs2)
    expect(shareOf(trends, ({ verdict }) => verdict === 'no change beyond noise')).toBeGreaterThanOrEqual(
      0.95,
    )
  })

  it('says of the rocker board, in every run, that there are too few sessions', () => {
    for (const trend of trendsOn(ROCKER, 'swayRms', ({ swayMs2 }) => swayMs2)) {
      expect(trend).toMatchObject({ verdict: 'too few sessions', counted: 5 })
      expect(trend.sentence).toContain('Not counted: 3 sessions in the first 3 weeks on this surface.')
    }
  })
})

describe('the demo programme simulated and analysed: the foam pad after familiarisation', () => {
  const programme = demoSessionScripts(END_US)
  const foam = on(FOAM, programme)
  const kept = foam.filter(({ week, session }) => week >= 4 && session !== 3)
  let reports: Report[]
  beforeAll(() => {
    reports = kept.map(
      ({ script }) => analyse({ trace: simulateSession(script).trace, unit: 'm/s²' }, {}).report,
    )
  }, 120_000)

  const trend = (measure: MeasureName) =>
    trendOf(
      kept.map(({ startedAtUs, truth }, i) =>
        trendPointOf(reports[i], { startedAtUs, setUp: FOAM, excluded: truth.slipped }, measure),
      ),
      { measure, unstableSurfaceSinceUs: foam[0].startedAtUs },
    )

  it('measures sway with the noise that the runs above take for it', () => {
    const ratios = kept.map(({ truth }, i) =>
      Math.log(reports[i].session.comparable.swayRms! / truth.swayMs2),
    )
    const mean = ratios.reduce((sum, ratio) => sum + ratio, 0) / ratios.length
    const sd = Math.sqrt(ratios.reduce((sum, r) => sum + (r - mean) ** 2, 0) / (ratios.length - 1))
    // An SD of some thirty values is known to about 13 %: two errors.
    expect(sd).toBeLessThan(1.26 * MEASURING_SD)
    // Tiring within and over repetitions lies above the first repetition's sway.
    expect(mean).toBeGreaterThan(0)
    expect(mean).toBeLessThan(0.3)
  })

  it('shows sway steadier, with the true slope in the interval', () => {
    expect(trend('swayRms').verdict).toBe('steadier')
    expect(holdsTruth(trend('swayRms'))).toBe(true)
  })

  it('shows the bad fortnight in the sessions: far above what the weeks beside it would have', () => {
    const { weekly } = trend('swayRms')
    const logs = weekly.map(({ value }) => value)
    const bad = kept.flatMap(({ truth }, i) =>
      truth.badWeek ? [reports[i].session.comparable.swayRms!] : [],
    )
    const beside = kept.flatMap(({ week }, i) =>
      week >= 5 && week <= 10 && week !== 7 && week !== 8 ? [reports[i].session.comparable.swayRms!] : [],
    )
    const middle = (values: number[]) => values.toSorted((a, b) => a - b)[values.length >> 1]
    expect(logs.length).toBeGreaterThanOrEqual(13)
    expect(middle(bad) / middle(beside)).toBeGreaterThan(1.15)
  })

  it('shows tremor unchanged and keeps the sessions with panting out of it', () => {
    const tremor = trend('tremorRms')
    expect(tremor.verdict).toBe('no change beyond noise')
    const panting = tremor.sessions.filter(({ leftOut }) => leftOut === 'look-alike')
    expect(panting.length).toBeGreaterThan(0)
    // What tremor figure they have is of their clean pieces: none carries the panting.
    for (const { value } of panting) expect(value ?? 0).toBeLessThan(1.5 * DEMO_COURSE.tremorMs2)
    expect(tremor.sentence).toContain('with panting, wagging or handling that can pass for tremor')
  })

  it('finds the slip of the harness in the session that a person left out for it', () => {
    const at = kept.findIndex(({ truth }) => truth.slipped)
    expect(reports[at].mount.shiftDeg).toBeGreaterThan(10)
    expect(trend('swayRms').sessions[at]).toMatchObject({ leftOut: 'excluded by a person' })
  })
})
