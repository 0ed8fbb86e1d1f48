import { describe, expect, test } from 'vitest'
import { evenTimes, madeTrace, seeded, seededNormal } from './made-trace.ts'
import { traceQuality } from '../../../signal/trace/quality.ts'
import type { Trace } from '../../../signal/trace/trace.ts'

const context = { stampResolutionS: 0, duplicates: 0, unusedSamples: 0, bandEdgesHz: [12, 18] }
const quality = (trace: Trace, more: Partial<typeof context> = {}) =>
  traceQuality(trace, { ...context, ...more })
const G = 9.80665

/** A standing dog: sway of 0.2 m/s² and sensor noise of 0.02 m/s² on each axis. */
function standing(times: Float64Array | number[], rateHz: number, stepMs2 = 0): Trace {
  const noise = seededNormal(1)
  const rounded = (value: number) => (stepMs2 === 0 ? value : Math.round(value / stepMs2) * stepMs2)
  const axis = (mean: number, swayHz: number) => (tS: number) =>
    rounded(mean + 0.2 * Math.sin(2 * Math.PI * swayHz * tS) + 0.02 * noise())
  return madeTrace(times, rateHz, { x: axis(0, 0.7), y: axis(0, 0.9), z: axis(G, 1.1) })
}

describe('a clean recording', () => {
  test('is good, with nothing to say', () => {
    const report = quality(standing(evenTimes(3000, 100), 100))
    expect(report).toMatchObject({
      verdict: 'good',
      reasons: [],
      gaps: [],
      clippedSamples: 0,
      flatSamples: 0,
      coverage: 1,
    })
    expect(report.effectiveRateHz).toBeCloseTo(100, 9)
    expect(report.jitterSdS).toBeLessThan(1e-12)
  })
  test('the noise floor is that of the sensor, not of the sway', () => {
    const { noiseFloorMs2 } = quality(standing(evenTimes(3000, 100), 100))
    // MAD of about 100 dependent differences on three axes: within 25 %.
    expect(Math.abs((noiseFloorMs2 ?? 0) / 0.02 - 1)).toBeLessThan(0.25)
  })
  test('no gap-free second gives no noise floor', () => {
    const t = evenTimes(400, 100).map((tS, i) => tS + Math.floor(i / 50))
    expect(quality(standing(t, 100)).noiseFloorMs2).toBeNull()
  })
})

describe('timing', () => {
  test('jitter leaves gaps out: SD and largest deviation of the steps', () => {
    // Steps of 9 and 11 ms in turn: mean 10 ms, SD 1 ms, largest deviation 1 ms.
    let at = 0
    const t = Array.from({ length: 2001 }, (_, i) =>
      i === 0 ? 0 : (at += i === 1001 ? 0.4 : i % 2 ? 0.009 : 0.011),
    )
    const report = quality(standing(t, 100))
    expect(report.jitterSdS).toBeCloseTo(0.001, 5)
    expect(report.jitterMaxS).toBeCloseTo(0.001, 5)
    expect(report.gaps.length).toBe(1)
  })
  test('missing stretches are gaps, and coverage counts them', () => {
    const t = evenTimes(3000, 100).filter((_, i) => i < 1000 || i >= 1150)
    const report = quality(standing(t, 100))
    expect(report.gaps).toEqual([{ fromS: 9.99, toS: 11.5 }])
    expect(report.coverage).toBeCloseTo(2850 / 3000, 6)
    expect(report.verdict).toBe('usable')
    expect(report.reasons.join()).toContain('1 gap, the longest 1.51 s')
  })
  test('a quarter missing makes it poor', () => {
    const t = evenTimes(4000, 100).filter((_, i) => i % 400 < 300)
    expect(quality(standing(t, 100)).verdict).toBe('poor')
  })
  test('uneven samples are told, rounded stamps are not', () => {
    const random = seeded(3)
    const uneven = evenTimes(3000, 100).map((tS) => tS + 0.008 * random())
    expect(quality(standing(uneven, 100)).reasons.join()).toContain('unevenly')
    const rounded = evenTimes(3000, 60).map((tS) => Math.round(tS * 100) / 100)
    expect(quality(standing(rounded, 60), { stampResolutionS: 0.01 }).reasons.join()).not.toContain(
      'unevenly',
    )
  })
  test('bands the rate cannot carry are named', () => {
    const report = quality(standing(evenTimes(1000, 40), 40))
    expect(report.verdict).toBe('usable')
    expect(report.reasons.join()).toContain('too few for bands up to 18 Hz')
    expect(quality(standing(evenTimes(1000, 45), 45)).reasons).toEqual([])
    expect(quality(standing(evenTimes(1000, 10), 10)).verdict).toBe('poor')
  })
})

describe('values', () => {
  test('peaks cut off at ±2 g count as clipped', () => {
    const limit = 2 * G
    const swing = (tS: number) => G + 14 * Math.sin(2 * Math.PI * 2 * tS)
    const trace = madeTrace(evenTimes(1000, 100), 100, {
      z: (tS) => Math.min(limit, swing(tS)),
      x: (_, i) => 0.01 * (i % 7),
    })
    const over = [...trace.t].filter((tS) => swing(tS) >= limit).length
    const report = quality(trace)
    expect(report.clippedSamples).toBe(over)
    expect(report.verdict).toBe('poor')
  })
  test.each([0.02, 0.15, 0.3])('quiet data in steps of %s m/s² is not clipped', (stepMs2) => {
    expect(quality(standing(evenTimes(3000, 100), 100, stepMs2)).clippedSamples).toBe(0)
  })
  test('brisk movement in coarse steps is not clipped', () => {
    const random = seededNormal(5)
    const z = (tS: number) =>
      Math.round((G + 6 * Math.sin(2 * Math.PI * 1.5 * tS) + 0.5 * random()) / 0.15) * 0.15
    expect(quality(madeTrace(evenTimes(3000, 100), 100, { z })).clippedSamples).toBe(0)
  })
  test('two postures held without noise are not clipped', () => {
    const tilt = (i: number) => (i < 700 ? 0 : 0.5)
    const trace = madeTrace(evenTimes(1000, 100), 100, {
      x: (_, i) => G * Math.sin(tilt(i)),
      z: (_, i) => G * Math.cos(tilt(i)),
    })
    expect(quality(trace).clippedSamples).toBe(0)
  })
  test('a sensor that hangs for two seconds is flat for two seconds', () => {
    const trace = standing(evenTimes(3000, 100), 100)
    for (const axis of [trace.acc.x, trace.acc.y, trace.acc.z]) axis.fill(axis[1000], 1000, 1200)
    const report = quality(trace)
    expect(report.flatSamples).toBe(200)
    expect(report.reasons.join()).toContain('no change at all for 2 s')
  })
  test('one axis that rests while the others move is not flat', () => {
    const trace = standing(evenTimes(3000, 100), 100)
    trace.acc.x.fill(0)
    expect(quality(trace).flatSamples).toBe(0)
  })
  test.each([
    [1.04, 'good'],
    [0.93, 'usable'],
    [1.3, 'poor'],
  ])('gravity read as %s g is %s', (scale, verdict) => {
    const trace = standing(evenTimes(3000, 100), 100)
    trace.acc.z.forEach((value, i) => (trace.acc.z[i] = value * scale))
    const report = quality(trace)
    expect(report.verdict).toBe(verdict)
    expect(report.reasons.length).toBe(verdict === 'good' ? 0 : 1)
  })
  test('a coarse step is told with its size, and bounds the noise floor', () => {
    const report = quality(standing(evenTimes(3000, 100), 100, 0.15))
    expect(report.reasons.join()).toContain('smaller than 0.15 m/s²')
    expect(report.noiseFloorMs2).toBeGreaterThanOrEqual(0.15 / Math.sqrt(12) - 1e-12)
  })
  test('dropped and left-out rows are told without hurting a good recording', () => {
    const report = quality(standing(evenTimes(3000, 100), 100), { duplicates: 2, unusedSamples: 1 })
    expect(report).toMatchObject({ verdict: 'good', duplicates: 2, unusedSamples: 1 })
    expect(report.reasons).toEqual(['2 repeated rows dropped.', '1 row without a usable sample left out.'])
  })
  test('an empty trace is refused', () => {
    expect(() => quality(madeTrace([], 100))).toThrow(RangeError)
  })
})
