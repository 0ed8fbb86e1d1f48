import { describe, expect, test } from 'vitest'
import type { TrendLine, TrendMarker } from '#protocol/trends'
import { theilSen } from '#signal/trend/theil-sen'
import { trendOf } from '#signal/trend/trend'
import { cursorAfter, nearestSession } from '../../dashboard/lib/trend/cursor.ts'
import { changeRange, changeText, measureDisplay, pText } from '../../dashboard/lib/trend/measure-display.ts'
import { trendPicture, timeSpanOf, valueRangeOf, xOf, yOf } from '../../dashboard/lib/trend/picture.ts'
import type { Frame } from '../../dashboard/lib/trend/picture.ts'
import { slopeLine } from '../../dashboard/lib/trend/slope-line.ts'
import { daysOf, isReversed } from '../../dashboard/lib/trend/spans.ts'
import { timeTicks } from '../../dashboard/lib/trend/time-axis.ts'
import { leftOutReason } from '../../dashboard/lib/trend/words.ts'
import { point, series } from '../signal/trend/series.ts'

const DAY_MS = 864e5

function lineOf(points = series({ seed: 'line', slopePerWeek: -0.04 })): TrendLine {
  const trend = trendOf(points, { measure: 'swayRms', unstableSurfaceSinceUs: null })
  return {
    key: 'k',
    setUp: { exercise: 'stand', surface: 'floor' },
    sensor: 'harness',
    trend,
    sessionIds: trend.sessions.map((_, k) => `s${k}`),
    ewma: null,
    familiarisation: null,
    familiarisationBasis: '',
  }
}

function frameOf(line: TrendLine): Frame {
  return {
    ...timeSpanOf([line]),
    left: 60,
    right: 700,
    top: 10,
    bottom: 300,
    values: valueRangeOf([line])!,
    log: true,
  }
}

describe('the line of a trend', () => {
  test('is the Theil–Sen line of the weekly medians, its band turned about the median week', () => {
    const { trend } = lineOf()
    const weeks = trend.weekly.map(({ week }) => week)
    const fit = theilSen(
      weeks,
      trend.weekly.map(({ value }) => Math.log(value)),
    )
    const at = (week: number) => Math.exp(fit.intercept + fit.slope * week)
    const { ends, low, high } = slopeLine(trend)!
    // 1e-9: the slope goes through percent and back.
    expect(Math.abs(ends[0] / at(weeks[0]) - 1)).toBeLessThan(1e-9)
    expect(Math.abs(ends[1] / at(weeks.at(-1)!) - 1)).toBeLessThan(1e-9)
    expect([low[0] > ends[0], high[0] < ends[0]]).toEqual([true, true])
    expect([low[1] < ends[1], high[1] > ends[1]]).toEqual([true, true])
  })

  test('is missing below two weeks', () => {
    expect(slopeLine(lineOf([point(0, 0.1)]).trend)).toBeNull()
  })

  test('is not drawn, nor its wedge, while too few sessions count for a verdict', () => {
    const line = lineOf([point(0, 0.1), point(7, 0.09), point(14, 0.08)])
    expect(line.trend.verdict).toBe('too few sessions')
    expect(line.trend.slopePer4Weeks).not.toBeNull()
    const { slope, slopeBand, weeks } = trendPicture(line, frameOf(line))
    expect([slope, slopeBand]).toEqual([null, null])
    expect(weeks).not.toBe('')
  })
})

describe('the picture', () => {
  test('holds every counted session and the noise limits inside its frame', () => {
    const line = lineOf()
    const frame = frameOf(line)
    for (const { startedAtUs, value } of line.trend.sessions) {
      const [x, y] = [xOf(frame, startedAtUs / 1000), yOf(frame, value!)]
      expect(x >= frame.left && x <= frame.right && y >= frame.top && y <= frame.bottom).toBe(true)
    }
    const { noise } = trendPicture(line, frame)
    expect(noise!.high).toBeLessThan(noise!.mean)
    expect(noise!.low).toBeLessThanOrEqual(frame.bottom)
  })

  test('keeps the bars of the first and the last week inside the plot', () => {
    // Sessions from a Wednesday to a Tuesday: both weeks reach beyond them.
    const line = lineOf(Array.from({ length: 6 }, (_, k) => point(2 + k * 7.8, 0.1)))
    const frame = frameOf(line)
    const ends = [...trendPicture(line, frame).weeks.matchAll(/[MH]([\d.-]+)/g)].map(([, x]) => Number(x))
    expect(ends.length).toBe(2 * line.trend.weekly.length)
    expect(Math.min(...ends)).toBeGreaterThanOrEqual(frame.left)
    expect(Math.max(...ends)).toBeLessThanOrEqual(frame.right)
    expect(new Set(ends).size).toBeGreaterThan(line.trend.weekly.length)
  })

  test('draws a session that is far off and left out at the edge instead of squeezing the rest', () => {
    const plain = lineOf()
    const points = [...series({ seed: 'line', slopePerWeek: -0.04 }), point(3, 90, { weak: true })]
    const line = lineOf(points)
    expect(valueRangeOf([line])).toEqual(valueRangeOf([plain]))
    expect(yOf(frameOf(line), 90)).toBeGreaterThan(0)
    expect(trendPicture(line, frameOf(line)).points['left out']).not.toBe('')
  })

  test('has nothing to show when no session has a value', () => {
    expect(valueRangeOf([lineOf([point(0, null), point(7, null)])])).toBeNull()
  })

  test('puts equal ratios at equal distances on the logarithmic scale', () => {
    const frame = { ...frameOf(lineOf()), values: { low: 0.05, high: 0.2 } }
    expect(yOf(frame, 0.05) - yOf(frame, 0.1)).toBeCloseTo(yOf(frame, 0.1) - yOf(frame, 0.2), 9)
  })
})

describe('the reading cursor', () => {
  const line = lineOf(Array.from({ length: 30 }, (_, k) => point(k, 0.1 + (k % 3) / 100)))
  const dayOf = (k: number) => new Date(line.trend.sessions[k].startedAtUs / 1000).toISOString().slice(0, 10)
  const markers: TrendMarker[] = [0, 10, 29].map((k) => ({
    kind: 'event',
    fromDate: dayOf(k),
    untilDate: null,
    words: `${k}`,
  }))
  const after = (key: string, cursor: Parameters<typeof cursorAfter>[1]) =>
    cursorAfter(key, cursor, line, markers)

  test('goes through the sessions one by one, by tens and to the ends, and stays inside', () => {
    expect(after('ArrowRight', null)).toEqual({ session: 0 })
    expect(after('ArrowLeft', null)).toEqual({ session: 29 })
    expect(after('ArrowRight', { session: 29 })).toEqual({ session: 29 })
    expect(after('PageDown', { session: 4 })).toEqual({ session: 14 })
    expect(after('PageUp', { session: 4 })).toEqual({ session: 0 })
    expect(after('End', { session: 4 })).toEqual({ session: 29 })
    expect(after('Home', { session: 4 })).toEqual({ session: 0 })
    expect(after('a', { session: 4 })).toBeNull()
  })

  test('goes up and down through what happened, and back to the sessions of those days', () => {
    expect(after('ArrowDown', { session: 0 })).toEqual({ marker: 0 })
    expect(after('ArrowDown', { session: 4 })).toEqual({ marker: 1 })
    expect(after('ArrowUp', { session: 4 })).toEqual({ marker: 0 })
    expect(after('ArrowDown', { marker: 2 })).toEqual({ marker: 2 })
    expect(after('ArrowRight', { marker: 1 })).toEqual({ session: 10 })
    expect(after('ArrowLeft', { marker: 1 })).toEqual({ session: 9 })
    expect(cursorAfter('ArrowDown', null, line, [])).toBeNull()
  })

  test('finds the nearest session as a search through all of them does', () => {
    const starts = line.trend.sessions.map(({ startedAtUs }) => startedAtUs / 1000)
    for (let ms = starts[0] - DAY_MS; ms < starts[29] + DAY_MS; ms += 3.7e6) {
      const found = nearestSession(line, ms)
      const least = Math.min(...starts.map((start) => Math.abs(start - ms)))
      expect(Math.abs(starts[found] - ms)).toBe(least)
    }
  })
})

describe('words and numbers of trends', () => {
  test('a change has its sign and unit, shares are told in percentage points', () => {
    expect(changeText(-4.13, '%')).toBe('−4.1 %')
    expect(changeText(12.4, 's')).toBe('+12 s')
    expect(changeText(0.031, '1')).toBe('+3.1 percentage points')
    expect(changeText(0.001, 's')).toBe('0.0 s')
    expect(changeRange(-6, 2.5, '%')).toBe('−6.0 to +2.5 %')
    expect([pText(0.0004), pText(0.0131), pText(0.92)]).toEqual(['p < 0.001', 'p = 0.013', 'p = 0.92'])
  })

  test('values follow the unit of acceleration where they are one', () => {
    expect(measureDisplay('swayRms', 'si').text(0.0962)).toBe('96.2 mm/s²')
    expect(measureDisplay('swayRms', 'mg').unit).toBe('mg')
    expect(measureDisplay('bestHoldS', 'mg').text(8.25)).toMatch(/^8\.[23] s$/)
    expect(measureDisplay('supportShare', 'si').text(0.4)).toBe('40 %')
    expect(measureDisplay('steadinessRatio', 'mg').text(1.5)).toBe('1.50 ×')
  })

  test('the reason of a person or of the sensor goes before the general one', () => {
    const base = lineOf([point(0, null), point(1, 0.1, { excluded: true }), point(2, 0.1)])
    const line = { ...base, belowSensor: ['s0'], excludedBecause: { s1: 'thunderstorm' } }
    expect(leftOutReason(line, 0)).toMatch(/steps of the sensor/)
    expect(leftOutReason(line, 1)).toBe('set aside by a person: thunderstorm')
    expect(leftOutReason(line, 2)).toBeNull()
  })

  test('a span ends today and begins on the same day of an earlier month, or on its last', () => {
    const none = { from: null, to: null }
    const may = Date.UTC(2026, 4, 31, 12)
    expect(daysOf('3 months', none, may)).toEqual({ from: '2026-02-28', to: null })
    expect(daysOf('1 year', none, may)).toEqual({ from: '2025-05-31', to: null })
    expect(daysOf('all', none, may)).toEqual(none)
    expect(daysOf('own', { from: '2026-01-01', to: null }, may).from).toBe('2026-01-01')
  })

  test('own days are impossible only when the first lies after the last', () => {
    expect(isReversed({ from: '2026-03-02', to: '2026-03-01' })).toBe(true)
    expect(isReversed({ from: '2026-03-01', to: '2026-03-01' })).toBe(false)
    expect(isReversed({ from: '2026-03-01', to: null })).toBe(false)
  })

  test('a month of the axis that names its year writes it in full', () => {
    const [first] = timeTicks({ fromMs: Date.UTC(2026, 7, 20), toMs: Date.UTC(2027, 1, 1) }, 8)
    expect(first.label).toMatch(/2026/)
  })

  test('the axis of time has few ticks on first days of months, from weeks to ten years', () => {
    for (const days of [1, 20, 70, 200, 400, 1100, 3650]) {
      const span = { fromMs: Date.UTC(2024, 1, 17), toMs: Date.UTC(2024, 1, 17) + days * DAY_MS }
      const ticks = timeTicks(span, 8)
      expect(ticks.length, `${days} days`).toBeGreaterThan(0)
      expect(ticks.length, `${days} days`).toBeLessThanOrEqual(9)
      for (const { atMs } of ticks) {
        expect(atMs >= span.fromMs && atMs <= span.toMs).toBe(true)
        if (days > 62) expect(new Date(atMs).getUTCDate()).toBe(1)
      }
    }
  })
})
