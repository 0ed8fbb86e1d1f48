import { describe, expect, it } from 'vitest'
import {
  addDays,
  count,
  daysIn,
  isWithin,
  lastWeeks,
  momentsOf,
  periodFault,
  periodOfQuery,
  queryOf,
} from '../../dashboard/lib/report/period.ts'

const NOW = new Date('2026-11-25T18:00:00Z')

describe('the period of a report', () => {
  it('of the last weeks has whole weeks with today as its last day', () => {
    expect(lastWeeks(12, NOW)).toEqual({ fromDay: '2026-09-03', toDay: '2026-11-25' })
    expect(daysIn(lastWeeks(16, NOW))).toBe(112)
  })

  it('holds its first midnight and ends before the midnight after its last day, UTC', () => {
    const period = { fromDay: '2026-11-01', toDay: '2026-11-25' }
    expect(momentsOf(period).toMs).toBe(Date.parse('2026-11-26T00:00:00Z'))
    expect(isWithin(period, '2026-11-01T00:00:00.000Z')).toBe(true)
    expect(isWithin(period, '2026-11-25T23:59:59.999Z')).toBe(true)
    expect(isWithin(period, '2026-11-26T00:00:00.000Z')).toBe(false)
    expect(isWithin(period, '2026-10-31T23:59:59.999Z')).toBe(false)
  })

  it('holds no session without a date', () => {
    expect(isWithin({ fromDay: '1970-01-01', toDay: '2999-12-31' }, null)).toBe(false)
  })

  it('crosses 29 February of a leap year', () => {
    expect(addDays('2028-02-28', 1)).toBe('2028-02-29')
    expect(addDays('2027-02-28', 1)).toBe('2027-03-01')
  })

  it.each([
    ['', '2026-11-25', 'Give both days.'],
    ['2026-02-31', '2026-11-25', 'Give both days.'],
    ['2026-11-26', '2026-11-25', 'The first day lies after the last one.'],
    ['2026-11-25', '2026-11-25', null],
  ])('from %j to %j is told as %j', (from, to, fault) => {
    expect(periodFault(from, to)).toBe(fault)
  })

  it('comes back from the address it makes, and not from a broken one', () => {
    const period = { fromDay: '2026-08-06', toDay: '2026-11-25' }
    expect(periodOfQuery(queryOf(period))).toEqual(period)
    expect(periodOfQuery('?from=2026-08-06')).toBeNull()
    expect(periodOfQuery('?from=2026-08-06&to=tomorrow')).toBeNull()
  })

  it('counts things with their plural', () => {
    expect(count(1, 'session')).toBe('1 session')
    expect(count(2, 'reason for not comparing')).toBe('2 reasons for not comparing')
  })
})
