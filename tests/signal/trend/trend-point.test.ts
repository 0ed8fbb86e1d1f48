import { describe, expect, it } from 'vitest'
import type { BandReport } from '#signal/report-types'
import { trendPointOf } from '#signal/trend/trend-point'
import type { TrendSource } from '#signal/trend/trend-point'

const AT = { startedAtUs: 1_772_386_200_000_000, setUp: 'foam pad, 6 cm' }

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
