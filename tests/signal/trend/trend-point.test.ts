import { describe, expect, it } from 'vitest'
import { TREND_MEASURES } from '#signal/trend/measures'
import type { MeasureName } from '#signal/trend/measures'
import type { BandReport } from '#signal/report-types'
import { trendFigures, trendPointFrom, trendPointOf } from '#signal/trend/trend-point'
import type { TrendSource } from '#signal/trend/trend-point'

const AT = { startedAtUs: 1_772_386_200_000_000, setUp: 'foam pad, 6 cm', excluded: false }

function band(lookalike: BandReport['lookalike']): BandReport {
  return {
    name: 'tremor',
    fromHz: 4,
    toHz: 12,
    power: 0.0025,
    rms: 0.05,
    peakHz: 8,
    peakWidthHz: 1,
    distinct: true,
    lookalike,
  }
}

function source(
  changes: Partial<TrendSource['session']> = {},
  holds: TrendSource['holds'] = [],
): TrendSource {
  return {
    holds,
    session: {
      bestHoldS: 9.5,
      handsOffHoldS: 24,
      supportShare: 0.2,
      comparable: {
        pieceS: 5,
        pieces: 4,
        basis: 'hands-off hold time',
        swayRms: 0.1,
        pathRate: 0.5,
        jerk: 1.2,
        steadinessRatio: 2.5,
        tremorRms: 0.05,
        weak: false,
      },
      ...changes,
    },
  }
}

describe('trendPointOf', () => {
  it('takes sway and tremor from the comparable 5 s pieces, with their weakness and hold time', () => {
    const base = source().session.comparable
    const weak = source({ comparable: { ...base, weak: true, basis: 'all hold time', tremorRms: null } })
    expect(trendPointOf(weak, AT, 'swayRms')).toEqual({
      ...AT,
      value: 0.1,
      weak: true,
      lookAlike: false,
      basis: 'all hold time',
    })
    expect(trendPointOf(weak, AT, 'tremorRms').value).toBeNull()
    expect(trendPointOf(source(), AT, 'pathRate').value).toBe(0.5)
    expect(trendPointOf(source(), AT, 'jerk').value).toBe(1.2)
    expect(trendPointOf(source(), AT, 'steadinessRatio').value).toBe(2.5)
  })

  it('takes hold times and support from the session, never weak', () => {
    const weak = source({ comparable: { ...source().session.comparable, weak: true } })
    expect(trendPointOf(weak, AT, 'bestHoldS')).toMatchObject({ value: 9.5, weak: false, basis: null })
    expect(trendPointOf(weak, AT, 'handsOffHoldS').value).toBe(24)
    expect(trendPointOf(source({ supportShare: null }), AT, 'supportShare').value).toBeNull()
  })

  it('flags a session whose exercise holds carry a look-alike in the tremor band, not the quiet stand', () => {
    const flagged = { role: 'exercise' as const, tremor: { bands: [band('panting')] } }
    const clean = { role: 'exercise' as const, tremor: { bands: [band(null), band('tail wag')] } }
    const quiet = { role: 'quiet stand' as const, tremor: { bands: [band('panting')] } }
    const point = (holds: TrendSource['holds']) => trendPointOf(source({}, holds), AT, 'tremorRms')
    expect(point([clean, flagged]).lookAlike).toBe(true)
    expect(point([clean, quiet, { role: 'exercise', tremor: { bands: [] } }]).lookAlike).toBe(false)
  })
})

describe('trendPointFrom', () => {
  it('gives from stored figures what the whole report gives, for every measure', () => {
    const report = source({}, [{ role: 'exercise', tremor: { bands: [band('panting')] } }])
    const stored = JSON.parse(JSON.stringify(trendFigures(report))) as ReturnType<typeof trendFigures>
    for (const measure of Object.keys(TREND_MEASURES) as MeasureName[]) {
      expect(trendPointFrom(stored, AT, measure)).toEqual(trendPointOf(report, AT, measure))
    }
  })

  it('has no value, and nothing against it, for a session that was not analysed', () => {
    const none = Object.fromEntries(Object.keys(trendFigures(source())).map((key) => [key, null]))
    const point = trendPointFrom(none as unknown as ReturnType<typeof trendFigures>, AT, 'swayRms')
    expect(point).toEqual({ ...AT, value: null, weak: false, lookAlike: false, basis: null })
  })

  it('has no steadiness ratio for a report from before it was measured', () => {
    const comparable = { ...source().session.comparable }
    delete comparable.steadinessRatio
    expect(trendPointOf(source({ comparable }), AT, 'steadinessRatio').value).toBeNull()
  })

  it("carries a person's exclusion", () => {
    expect(trendPointOf(source(), { ...AT, excluded: true }, 'swayRms').excluded).toBe(true)
  })
})
