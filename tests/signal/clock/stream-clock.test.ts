import { describe, expect, test } from 'vitest'
import { streamClock } from '#signal/clock/stream-clock'
import { createRandom } from '#signal/simulator/random'
import { receive } from './link.ts'
import type { Link, Received } from './link.ts'

const LINK: Omit<Link, 'seed' | 'ppm'> = {
  durationS: 60.5,
  nominalRateHz: 100,
  samplesPerPacket: 10,
  jitterS: 0.1,
  lossShare: 0.05,
  connectionIntervalS: 0,
  retryShare: 0,
  stallEveryS: 20,
}
const links = (more: Partial<Link> = {}) =>
  Array.from({ length: 100 }, (_, i) =>
    receive({ ...LINK, ...more, seed: `stream ${i}`, ppm: i % 2 ? 200 : -200 }),
  )

const ppmOff = ({ trueRateHz }: Received, rateHz: number) => Math.abs(rateHz / trueRateHz - 1) * 1e6

/** RMS over all samples of what n ÷ rate is off from the truth, ms. */
function rmsMs({ index, trueS }: Received, rateHz: number): number {
  const last = index[index.length - 1]
  let sum = 0
  for (let n = 0; n <= last; n++) sum += (n / rateHz - trueS(n)) ** 2
  return 1000 * Math.sqrt(sum / (last + 1))
}

/** Arrivals whose stamping clock is set by `byS` from sample `from` on. */
function stepped({ index, arrivedS }: Received, from: number, byS: number): number[] {
  return index.map((n, i) => arrivedS[i] + (n >= from ? byS : 0))
}

describe('streamClock', () => {
  test('60 s at ±200 ppm, 100 ms jitter, 5 % loss: rate within 100 ppm, times within 5 ms RMS, every seed', () => {
    for (const link of links()) {
      const clock = streamClock(link.index, link.arrivedS, 100)
      expect(clock.basis).toBe('arrival times')
      expect(ppmOff(link, clock.rateHz)).toBeLessThanOrEqual(100)
      expect(rmsMs(link, clock.rateHz)).toBeLessThanOrEqual(5)
      expect(clock.driftPpm).toBeCloseTo((clock.rateHz / 100 - 1) * 1e6, 6)
      // The least delay of the link (4 ms), and what the jitter leaves of it.
      expect(clock.offsetS).toBeGreaterThan(0)
      expect(clock.offsetS).toBeLessThan(0.02)
      expect(clock.residualS).toBeLessThan(0.01)
    }
  })

  test('five minutes bring the rate to 10 ppm even over connection events with retries', () => {
    for (const link of links({ durationS: 300, connectionIntervalS: 0.045, retryShare: 0.25, jitterS: 0 })) {
      expect(ppmOff(link, streamClock(link.index, link.arrivedS, 100).rateHz)).toBeLessThanOrEqual(10)
    }
  })

  test.each([-3600, -0.5, -0.2, 0.2, 0.5, 3600])(
    'a stamping clock set by %f s costs the shorter side, not the rate',
    (byS) => {
      for (const link of links({ durationS: 200 }).slice(0, 20)) {
        const from = 12_000
        const clock = streamClock(link.index, stepped(link, from, byS), 100)
        expect(clock.basis).toBe('arrival times')
        expect(ppmOff(link, clock.rateHz)).toBeLessThanOrEqual(100)
      }
    },
  )

  test('a clock set every half minute gives the nominal rate and the reason', () => {
    const [link] = links({ durationS: 120 })
    const arrivedS = link.index.map((n, i) => link.arrivedS[i] + Math.floor(n / 3000) * 2)
    const clock = streamClock(link.index, arrivedS, 100)
    expect(clock).toMatchObject({ rateHz: 100, driftPpm: null, basis: 'nominal rate' })
    expect(clock.reason).toMatch(/clock of the sender jumped/)
  })

  test('single stamps far too early, and a link cut for half a minute, change nothing much', () => {
    for (const link of links({ durationS: 200 }).slice(0, 20)) {
      const random = createRandom(link.trueRateHz)
      const wild = new Set([20, 300, 700].map((i) => i + Math.floor(random.uniform(0, 50))))
      const backS = link.arrivedS[1300] + 30
      const arrivedS = link.arrivedS.map((s, i) => (wild.has(i) ? -1e9 : i > 1300 ? Math.max(s, backS) : s))
      const clock = streamClock(link.index, arrivedS, 100)
      expect(clock.basis).toBe('arrival times')
      expect(ppmOff(link, clock.rateHz)).toBeLessThanOrEqual(100)
    }
  })

  test('a sampler off by 3 % is followed, one off by 8 % contradicts what was said', () => {
    const near = receive({ ...LINK, durationS: 120, seed: 'near', ppm: 30_000 })
    expect(ppmOff(near, streamClock(near.index, near.arrivedS, 100).rateHz)).toBeLessThanOrEqual(100)
    const far = receive({ ...LINK, durationS: 120, seed: 'far', ppm: -80_000 })
    const clock = streamClock(far.index, far.arrivedS, 100)
    expect(clock).toMatchObject({ rateHz: 100, driftPpm: null, basis: 'nominal rate' })
    expect(clock.reason).toMatch(/sensor of 92\.0\d? Hz, too far from the 100 Hz/)
  })

  test('less than 60 s, few packets, and everything at once give the nominal rate and say why', () => {
    const [short] = links({ durationS: 50 })
    expect(streamClock(short.index, short.arrivedS, 100).reason).toMatch(/over 50 s; a rate takes 60 s/)
    const [long] = links({ durationS: 600, samplesPerPacket: 2000 })
    expect(streamClock(long.index, long.arrivedS, 100).basis).toBe('nominal rate')
    const [link] = links({ durationS: 100 })
    const atOnce = streamClock(
      link.index,
      link.index.map((_, i) => 5 + i * 1e-4),
      100,
    )
    expect(atOnce.basis).toBe('nominal rate')
    const never = streamClock(
      link.index,
      link.index.map(() => 5),
      100,
    )
    expect(never.basis).toBe('nominal rate')
    expect(streamClock([], [], 100).basis).toBe('nominal rate')
  })

  test('wrong calls are refused', () => {
    expect(() => streamClock([1], [1], 0)).toThrow('nominalRateHz > 0')
    expect(() => streamClock([1, 2], [1], 100)).toThrow('as many times as indices')
  })
})
