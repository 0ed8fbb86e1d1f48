import { describe, expect, it } from 'vitest'
import { weeklyMedians, weekOf, WEEK_US } from '#signal/trend/weekly'

const us = (iso: string) => Date.parse(iso) * 1000

describe('weeklyMedians', () => {
  it('gives one median per calendar week, Monday to Sunday in UTC', () => {
    // 2026-03-02 is a Monday.
    const values = [
      { atUs: us('2026-03-02T00:00:00Z'), value: 4 },
      { atUs: us('2026-03-08T23:59:59.999Z'), value: 1 },
      { atUs: us('2026-03-05T12:00:00Z'), value: 3 },
      { atUs: us('2026-03-09T00:00:00Z'), value: 7 },
      { atUs: us('2026-03-01T23:59:59Z'), value: 9 },
    ]
    const weeks = weeklyMedians(values)
    expect(weeks.map(({ startUs, value, sessions }) => [startUs, value, sessions])).toEqual([
      [us('2026-02-23T00:00:00Z'), 9, 1],
      [us('2026-03-02T00:00:00Z'), 3, 3],
      [us('2026-03-09T00:00:00Z'), 7, 1],
    ])
  })

  it('leaves a week without sessions missing and shows the hole in the week numbers', () => {
    const weeks = weeklyMedians([
      { atUs: us('2026-03-25T10:00:00Z'), value: 2 },
      { atUs: us('2026-03-04T10:00:00Z'), value: 1 },
    ])
    expect(weeks.map(({ value }) => value)).toEqual([1, 2])
    expect(weeks[1].week - weeks[0].week).toBe(3)
  })

  it('takes the mean of the middle two of an even number', () => {
    const day = us('2026-03-04T10:00:00Z')
    expect(weeklyMedians([1, 5, 2, 9].map((value) => ({ atUs: day, value })))[0].value).toBe(3.5)
  })

  it('gives nothing for nothing and refuses what is not finite', () => {
    expect(weeklyMedians([])).toEqual([])
    expect(() => weeklyMedians([{ atUs: NaN, value: 1 }])).toThrow('requires finite moments and values')
  })
})

describe('weekOf', () => {
  // Source: 1 January 1970 was a Thursday.
  it('counts from the week that holds the epoch, before it too', () => {
    expect(weekOf(0)).toBe(0)
    expect(weekOf(us('1970-01-04T23:59:59Z'))).toBe(0)
    expect(weekOf(us('1970-01-05T00:00:00Z'))).toBe(1)
    expect(weekOf(us('1969-12-28T23:59:59Z'))).toBe(-1)
    expect(weekOf(us('2026-03-04T00:00:00Z') + WEEK_US) - weekOf(us('2026-03-04T00:00:00Z'))).toBe(1)
  })
})
