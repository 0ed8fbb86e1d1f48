import { describe, expect, it } from 'vitest'
import { analyseTrace } from '#signal/report'
import { leastSwayMs2 } from '#signal/sway/least-sway'
import type { Trace } from '#signal/trace/trace'

const RATE_HZ = 60
const STEP_MS2 = 0.1

/** A minute of a dog that sways by a sine in one direction, seen in steps of 0.1 m/s². */
function roundedSway(amplitudeMs2: number): Trace {
  const n = 60 * RATE_HZ
  const round = (value: number) => Math.round(value / STEP_MS2) * STEP_MS2
  const axis = (of: (tS: number) => number) =>
    Float64Array.from({ length: n }, (_, i) => round(of(i / RATE_HZ)))
  return {
    t: Float64Array.from({ length: n }, (_, i) => i / RATE_HZ),
    acc: {
      x: axis((tS) => amplitudeMs2 * Math.sin(2 * Math.PI * 0.5 * tS)),
      y: axis(() => 0),
      z: axis(() => 9.81),
    },
    startedAtUs: null,
    rateHz: RATE_HZ,
    marks: [],
  }
}

const sway = (amplitudeMs2: number, resolutionMs2?: number) => {
  const report = analyseTrace(
    { trace: roundedSway(amplitudeMs2), unit: 'm/s2', resolutionMs2 },
    { mount: 'identity', interval: [5, 55] },
  )
  return { ...report.holds[0].sway, quality: report.quality }
}

describe('leastSwayMs2', () => {
  it('is twice the rounding noise of two axes', () => {
    // A step q rounds with a standard deviation of q/√12 (uniform distribution over one step).
    expect(leastSwayMs2(0.1)).toBeCloseTo(2 * Math.sqrt(2 * 0.1 ** 2 * (1 / 12)), 12)
    expect(leastSwayMs2(null)).toBeNull()
  })
})

describe('a sensor that states steps of 0.1 m/s²', () => {
  it('is said to be unable to measure a dog that sways within one step', () => {
    const steady = sway(0.02, STEP_MS2)
    expect(steady.rms.horizontal).toBe(0)
    expect(steady.reason).toContain('below what this sensor can measure')
    expect(steady.quality.resolutionMs2).toBe(STEP_MS2)
    expect(steady.quality.reasons.join(' ')).toContain('cannot show changes smaller than 0.1 m/s²')
    expect(steady.quality.noiseFloorMs2).toBeGreaterThanOrEqual(STEP_MS2 / Math.sqrt(12))
  })

  it('measures clear sway and does not doubt it', () => {
    const clear = sway(0.4, STEP_MS2)
    // Within 5 % of 0.4/√2: rounding adds noise, the 3.5 Hz low-pass keeps 0.5 Hz.
    expect(clear.rms.horizontal / (0.4 / Math.SQRT2)).toBeGreaterThan(0.95)
    expect(clear.rms.horizontal / (0.4 / Math.SQRT2)).toBeLessThan(1.05)
    expect(clear.reason ?? '').not.toContain('below what this sensor can measure')
  })

  it('is told apart from a sensor that states nothing', () => {
    const silent = sway(0.02)
    expect(silent.reason ?? '').not.toContain('below what this sensor can measure')
    expect(silent.quality).not.toHaveProperty('resolutionMs2')
  })
})
