import { describe, expect, test } from 'vitest'
import fc from 'fast-check'
import { CounterUnwrap, isAmbiguous, unwrapCounter } from '../../../signal/clock/unwrap.ts'
import { fitClock } from '../../../signal/clock/lower-hull.ts'
import { lossShare, lostBetween } from '../../../signal/clock/loss.ts'
import { receive } from './link.ts'
import { RunningClock } from '../../../signal/clock/running-clock.ts'
import type { Link } from './link.ts'

const QUIET: Omit<Link, 'seed' | 'ppm'> = {
  durationS: 60,
  nominalRateHz: 100,
  samplesPerPacket: 10,
  jitterS: 0,
  lossShare: 0.05,
  connectionIntervalS: 0,
  retryShare: 0,
  stallEveryS: 20,
}
const LINKS: [string, Partial<Link>][] = [
  ['100 ms of even one-sided jitter, 5 % loss, stalls', { jitterS: 0.1 }],
  ['events every 45 ms with retries, 5 % loss, stalls', { connectionIntervalS: 0.045, retryShare: 0.25 }],
]
const ALL_AT_ONCE: Partial<Link> = { jitterS: 0.1, connectionIntervalS: 0.045, retryShare: 0.25 }

/** 100 links of ±200 ppm. */
const links = (more: Partial<Link>) =>
  Array.from({ length: 100 }, (_, i) =>
    receive({ ...QUIET, ...more, seed: `clock ${i}`, ppm: i % 2 ? 200 : -200 }),
  )

/** SD of the error in ms: RMS once the constant, which holds the least delay, is taken off. */
function spreadMs(errorsS: readonly number[]): number {
  const mean = errorsS.reduce((sum, error) => sum + error, 0) / errorsS.length
  return 1000 * Math.sqrt(errorsS.reduce((sum, error) => sum + (error - mean) ** 2, 0) / errorsS.length)
}

/** The value that `share` of the values do not exceed. */
function quantile(values: readonly number[], share: number): number {
  return [...values].sort((a, b) => a - b)[Math.ceil(share * values.length) - 1]
}

describe('fitClock after 60 s', () => {
  const results = (more: Partial<Link>) =>
    links(more).map(({ index, arrivedS, trueS, trueRateHz }) => {
      const fit = fitClock(index, arrivedS, 100)
      return {
        ppm: Math.abs(fit.rateHz / trueRateHz - 1) * 1e6,
        driftPpm: fit.driftPpm!,
        ms: spreadMs(index.map((n) => fit.interceptS + n * fit.periodS - trueS(n))),
        above: index.filter((n, i) => fit.interceptS + n * fit.periodS > arrivedS[i] + 1e-9).length,
      }
    })

  test.each(LINKS)('%s: rate within 100 ppm, times within 5 ms RMS', (_, more) => {
    const runs = results(more)
    // Seen: 95 % below 45 ppm, the worst of 100 at 88.
    expect(Math.max(...runs.map(({ ppm }) => ppm))).toBeLessThanOrEqual(100)
    expect(Math.max(...runs.map(({ ms }) => ms))).toBeLessThanOrEqual(5)
    for (const { above } of runs) expect(above).toBe(0)
    // The sign of the drift is plain.
    runs.forEach(({ driftPpm }, i) => expect(Math.sign(driftPpm)).toBe(i % 2 ? 1 : -1))
  })

  test('all at once: few packets come near the least delay, and the rate is good to some 100 ppm', () => {
    const runs = results(ALL_AT_ONCE)
    // Short of the 100 ppm aimed at: jitter before the wait for an event leaves almost no packet undelayed. The
    // delays scatter by 40 ms; least squares on 570 of them would have an SD of some 100 ppm without any stall,
    // and regression on low quantiles (2 to 35 %), tried in its place, gave 250 to 320 where the hull gives 350.
    expect(
      quantile(
        runs.map(({ ppm }) => ppm),
        0.5,
      ),
    ).toBeLessThanOrEqual(150)
    expect(
      quantile(
        runs.map(({ ppm }) => ppm),
        0.95,
      ),
    ).toBeLessThanOrEqual(450)
    expect(
      quantile(
        runs.map(({ ms }) => ms),
        0.5,
      ),
    ).toBeLessThanOrEqual(3)
    expect(Math.max(...runs.map(({ ms }) => ms))).toBeLessThanOrEqual(10)
  })

  test('a line without delay is found exactly', () => {
    const index = [9, 19, 29, 59, 69]
    const fit = fitClock(
      index,
      index.map((n) => 5 + n / 52),
      50,
    )
    expect(fit.rateHz).toBeCloseTo(52, 9)
    expect(fit.interceptS).toBeCloseTo(5, 12)
    expect(fit.driftPpm).toBeCloseTo(40_000, 6)
  })

  test('no other line under all arrivals lies closer to them', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 1, max: 5 }), fc.double({ min: 0, max: 0.05, noNaN: true })), {
          minLength: 3,
          maxLength: 40,
        }),
        fc.double({ min: -0.002, max: 0.002, noNaN: true }),
        (steps, tilt) => {
          let n = 0
          const index = steps.map(([step]) => (n += step))
          const arrivedS = index.map((i, k) => i / 10 + steps[k][1])
          const fit = fitClock(index, arrivedS)
          const sumUnder = (a: number, b: number) => index.reduce((sum, i) => sum + a + b * i, 0)
          // Another slope, raised until it touches.
          const slope = fit.periodS + tilt
          const other = Math.min(...index.map((i, k) => arrivedS[k] - slope * i))
          expect(sumUnder(fit.interceptS, fit.periodS)).toBeGreaterThanOrEqual(sumUnder(other, slope) - 1e-9)
        },
      ),
      { seed: 81, numRuns: 500 },
    )
  })

  test('wrong calls are refused', () => {
    expect(() => fitClock([1], [1])).toThrow('two or more arrivals')
    expect(() => fitClock([1, 2], [1])).toThrow('two or more arrivals')
    expect(() => fitClock([2, 1], [1, 2])).toThrow('ascending')
    expect(() => fitClock([1, 2], [2, 1])).toThrow('runs forward')
  })
})

describe('RunningClock', () => {
  test.each([
    ['the last 30 s', 30],
    ['all', Infinity],
  ])('over %s: times within 5 ms RMS in the second half minute, and they never step back', (_, windowS) => {
    for (const [, more] of LINKS) {
      for (const { index, arrivedS, trueS } of links(more)) {
        const clock = new RunningClock({ nominalRateHz: 100, windowS })
        const times = index.map((n, i) => {
          clock.add(n, arrivedS[i])
          return clock.timeOf(n)
        })
        for (let i = 1; i < times.length; i++) expect(times[i]).toBeGreaterThan(times[i - 1])
        const half = Math.floor(times.length / 2)
        expect(spreadMs(index.slice(half).map((n, i) => times[half + i] - trueS(n)))).toBeLessThanOrEqual(5)
      }
    }
  })

  test('starts at the nominal rate, so that two packets of a burst do not make a rate', () => {
    const clock = new RunningClock({ nominalRateHz: 100 })
    expect(clock.fit()).toBeNull()
    expect(() => clock.timeOf(0)).toThrow('an arrival first')
    clock.add(9, 1)
    clock.add(19, 1.001)
    expect(clock.fit()).toMatchObject({ rateHz: 100, driftPpm: 0 })
    expect(clock.timeOf(19)).toBeCloseTo(1.001, 12)
  })

  test('a first packet that came late is corrected by slowing, never by stepping back', () => {
    const clock = new RunningClock({ nominalRateHz: 100 })
    const taken = (n: number) => n / 100
    clock.add(9, taken(9) + 0.4)
    const times = [clock.timeOf(9)]
    for (let n = 19; n < 1000; n += 10) {
      clock.add(n, taken(n))
      times.push(clock.timeOf(n))
    }
    times.slice(1).forEach((tS, i) => {
      const stepS = tS - times[i]
      expect(stepS).toBeGreaterThanOrEqual(0.09 - 1e-9)
      expect(stepS).toBeLessThanOrEqual(0.11 + 1e-9)
    })
    // 0.4 s at 10 % take 4 s.
    expect(times[45]).toBeCloseTo(taken(459), 9)
  })

  test('samples at or before the newest one lie on the line through it', () => {
    const clock = new RunningClock({ nominalRateHz: 100 })
    clock.add(99, 1)
    const newest = clock.timeOf(99)
    expect(clock.timeOf(90)).toBeCloseTo(newest - 0.09, 12)
    expect(clock.timeOf(99)).toBe(newest)
  })

  test('forgets what is older than its window', () => {
    const clock = new RunningClock({ nominalRateHz: 100, windowS: 10 })
    // The rate changes at 30 s, as with temperature, from 100 to 100.1 Hz.
    for (let n = 0; n < 6000; n += 10) clock.add(n, n < 3000 ? n / 100 : 30 + (n - 3000) / 100.1)
    expect(clock.fit()!.rateHz).toBeCloseTo(100.1, 9)
  })

  test('wrong calls are refused', () => {
    expect(() => new RunningClock({ nominalRateHz: 0 })).toThrow('nominalRateHz > 0')
    expect(() => new RunningClock({ nominalRateHz: 100, windowS: 0 })).toThrow('windowS > 0')
    const clock = new RunningClock({ nominalRateHz: 100 })
    clock.add(10, 1)
    expect(() => clock.add(10, 2)).toThrow('ascending')
  })
})

describe('counters and loss', () => {
  test('any walk forward of less than half the modulo is unwrapped', () => {
    fc.assert(
      fc.property(fc.constantFrom(16, 256, 65536), fc.array(fc.nat()), (modulo, steps) => {
        let index = 3
        const indices = steps.map((step) => (index += step % (modulo / 2)))
        const first = indices[0] % modulo
        const expected = indices.map((value) => value - indices[0] + first)
        const raw = indices.map((value) => value % modulo)
        expect([...unwrapCounter(raw, modulo)]).toEqual(expected)
      }),
      { seed: 82, numRuns: 300 },
    )
  })

  test('a packet that comes late or twice tells its own place and moves nothing', () => {
    expect([...unwrapCounter([250, 252, 251, 252, 1, 255, 3], 256)]).toEqual([
      250, 252, 251, 252, 257, 255, 259,
    ])
  })

  test('after a silence that may hide half the modulo a new segment is asked for', () => {
    expect(isAmbiguous(1.28, 100, 256)).toBe(false)
    expect(isAmbiguous(1.29, 100, 256)).toBe(true)
    const unwrap = new CounterUnwrap(256)
    unwrap.next(5)
    expect(() => unwrap.next(6, 2, 100)).toThrow('begin anew')
    expect(() => unwrap.next(256)).toThrow('from 0')
    expect(() => new CounterUnwrap(1)).toThrow('modulo >= 2')
  })

  test('loss is the gaps of the index; what comes twice loses nothing', () => {
    const packets = [
      { firstIndex: 100, count: 10 },
      { firstIndex: 110, count: 10 },
      { firstIndex: 110, count: 10 },
      { firstIndex: 140, count: 10 },
      { firstIndex: 145, count: 5 },
    ]
    expect(lostBetween(packets)).toEqual([{ firstIndex: 120, count: 20 }])
    expect(lossShare(packets)).toBe(20 / 50)
    expect(lostBetween([])).toEqual([])
    expect(lossShare([])).toBe(0)
    expect(() => lostBetween([packets[1], packets[0]])).toThrow('ascending')
    expect(() => lostBetween([{ firstIndex: 0, count: 0 }])).toThrow('1 or more')
  })
})
