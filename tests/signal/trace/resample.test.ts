import { describe, expect, test } from 'vitest'
import { evenTimes, madeTrace, seeded } from './made-trace.ts'
import { nearestTargetRate, uniformStretches } from '../../../signal/trace/resample.ts'

const sineHz = (frequencyHz: number) => (tS: number) => Math.sin(2 * Math.PI * frequencyHz * tS)
const rms = (values: Float64Array) =>
  Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length)

describe('target rate', () => {
  test.each([
    [10, 25],
    [30, 25],
    [50.03, 50],
    [51.2, 52],
    [60, 52],
    [98.6, 100],
    [102.4, 104],
    [1000, 200],
  ])('%s Hz goes to %s Hz', (rateHz, target) => expect(nearestTargetRate(rateHz)).toBe(target))
})

describe('stretches', () => {
  test('samples on the grid are kept bit for bit', () => {
    const trace = madeTrace(evenTimes(1000, 100), 100, { x: sineHz(5) })
    const { stretches, rateHz, droppedSamples } = uniformStretches(trace)
    expect([stretches.length, rateHz, droppedSamples, stretches[0].startS]).toEqual([1, 100, 0, 0])
    expect(stretches[0].acc).toEqual(trace.acc)
  })
  test('samples whose stamps are only rounded are kept bit for bit', () => {
    const stamps = evenTimes(1000, 104).map((tS) => Math.round(tS * 1000) / 1000)
    const trace = madeTrace(stamps, 104, { x: sineHz(5) })
    expect(uniformStretches(trace, { stampResolutionS: 0.001 }).stretches[0].acc.x).toEqual(trace.acc.x)
    expect(uniformStretches(trace).stretches[0].acc.x).not.toEqual(trace.acc.x)
  })
  test('coarse stamps do not stretch a run of samples into the next one', () => {
    const random = seeded(10)
    const kept = evenTimes(400, 100).filter(() => random() < 0.4)
    const t = kept.map((tS) => tS - kept[0])
    const { stretches, rateHz } = uniformStretches(madeTrace(t, 50), { rateHz: 25, stampResolutionS: 1 })
    expect(stretches.length).toBeGreaterThan(3)
    for (let i = 1; i < stretches.length; i++) {
      const { startS, acc } = stretches[i - 1]
      expect(startS + (acc.x.length - 1) / rateHz).toBeLessThan(stretches[i].startS)
    }
  })
  test('nothing crosses a gap, and each stretch starts at its first sample', () => {
    const t = evenTimes(1000, 100).filter((_, i) => i < 300 || (i >= 350 && i < 352) || i >= 400)
    const trace = madeTrace(t, 100, { x: sineHz(2) })
    const { stretches, droppedSamples } = uniformStretches(trace)
    expect(stretches.map(({ startS, acc }) => [startS, acc.x.length])).toEqual([
      [0, 300],
      [4, 600],
    ])
    expect(droppedSamples).toBe(2)
  })
  test('a stretch of less than 0.1 s or 3 samples is dropped and counted', () => {
    const lengths = (count: number) => {
      const t = [...evenTimes(200, 100), ...evenTimes(count, 100).map((tS) => tS + 5)]
      return uniformStretches(madeTrace(t, 100)).droppedSamples
    }
    expect([lengths(2), lengths(10), lengths(11)]).toEqual([2, 10, 0])
  })
  test('the gyroscope goes the same way as the acceleration', () => {
    const trace = madeTrace(evenTimes(500, 98.6), 98.6, { x: sineHz(3) })
    const [stretch] = uniformStretches({ ...trace, gyr: trace.acc }).stretches
    expect(stretch.gyr).toEqual(stretch.acc)
  })
  test.each([0, -1, NaN, Infinity])('a rate of %s is refused', (rateHz) => {
    expect(() => uniformStretches(madeTrace(evenTimes(50, 100), 100), { rateHz })).toThrow(RangeError)
  })
})

describe('interpolation', () => {
  test('a clock of 98.6 Hz is put on the true 100 Hz grid', () => {
    const trace = madeTrace(evenTimes(986, 98.6), 98.6, { x: sineHz(2) })
    const [{ acc }] = uniformStretches(trace).stretches
    expect(acc.x.length).toBe(Math.floor((985 / 98.6) * 100) + 1)
    // PCHIP flattens turning points: error up to (2πf·h)²/8 there, 0.2 % at 2 Hz.
    acc.x.forEach((value, i) => expect(Math.abs(value - sineHz(2)(i / 100))).toBeLessThan(0.0025))
  })
  test('jittered samples of a straight line come out on the line', () => {
    const random = seeded(7)
    const t = evenTimes(500, 100).map((tS, i) => (i === 0 ? 0 : tS + 0.004 * (random() - 0.5)))
    const [{ acc }] = uniformStretches(madeTrace(t, 100, { x: (tS) => 3 * tS })).stretches
    acc.x.forEach((value, i) => expect(value).toBeCloseTo((3 * i) / 100, 12))
  })
  test('no value lies outside the samples around it', () => {
    const random = seeded(8)
    const t = evenTimes(500, 100).map((tS) => tS + 0.004 * random())
    const trace = madeTrace(t, 100, { x: () => random() })
    const [{ acc }] = uniformStretches(trace).stretches
    expect(Math.max(...acc.x)).toBeLessThanOrEqual(Math.max(...trace.acc.x))
    expect(Math.min(...acc.x)).toBeGreaterThanOrEqual(Math.min(...trace.acc.x))
  })
})

describe('downsampling', () => {
  const middle = (values: Float64Array) => values.subarray(100, values.length - 100)
  test.each([200, 150])('from %s Hz to 50 Hz a 3 Hz sine keeps its amplitude and phase', (sourceHz) => {
    const trace = madeTrace(evenTimes(sourceHz * 20, sourceHz), sourceHz, { x: sineHz(3) })
    const [{ acc }] = uniformStretches(trace, { rateHz: 50 }).stretches
    // The filter's gain at 3 Hz is 1 within 1e-12 (order 8, corner 20 Hz); the ends carry its transients.
    middle(acc.x).forEach((value, i) => expect(value).toBeCloseTo(sineHz(3)((i + 100) / 50), 8))
  })
  test.each([200, 130])('from %s Hz to 50 Hz a 35 Hz sine does not fold back to 15 Hz', (sourceHz) => {
    const trace = madeTrace(evenTimes(sourceHz * 20, sourceHz), sourceHz, { x: sineHz(35) })
    const [{ acc }] = uniformStretches(trace, { rateHz: 50 }).stretches
    // |H|² of order 8 at 35/20 of the corner: 1 / (1 + 1.75¹⁶) = 1.3e-4, less after prewarping.
    expect(rms(middle(acc.x)) * Math.SQRT2).toBeLessThan(1.4e-4)
  })
  test('samples 60 Hz to 52 Hz stay on the time of the source', () => {
    const trace = madeTrace(evenTimes(1200, 60), 60, { x: sineHz(1) })
    const { rateHz, stretches } = uniformStretches(trace)
    expect(rateHz).toBe(52)
    // PCHIP at 60 Hz flattens a 1 Hz turning point by up to (2π/60)²/8 = 0.14 %.
    middle(stretches[0].acc.x).forEach((value, i) =>
      expect(Math.abs(value - sineHz(1)((i + 100) / 52))).toBeLessThan(0.0015),
    )
  })
  test('uneven samples are levelled before the filter', () => {
    const random = seeded(9)
    const t = evenTimes(4000, 200).map((tS, i) => (i === 0 ? 0 : tS + 0.001 * random()))
    const [{ acc }] = uniformStretches(madeTrace(t, 200, { x: sineHz(3) }), { rateHz: 50 }).stretches
    middle(acc.x).forEach((value, i) =>
      expect(Math.abs(value - sineHz(3)((i + 100) / 50))).toBeLessThan(0.002),
    )
  })
})
