import { describe, expect, it } from 'vitest'
import { analyseTrace } from '#signal/report'
import type { Trace } from '#signal/trace/trace'

const RATE_HZ = 100
const SWING_HZ = 0.4
const AMPLITUDE_DEG = 2
const BIAS_RAD_S = 0.02

/** 20 s level and still, then 20 s rocking in pitch: the nose goes up by 2° · sin. */
function rocking(withGyroscope: boolean): Trace {
  const n = 40 * RATE_HZ
  const t = Float64Array.from({ length: n }, (_, i) => i / RATE_HZ)
  const omega = 2 * Math.PI * SWING_HZ
  const amplitude = (AMPLITUDE_DEG * Math.PI) / 180
  const pitch = t.map((s) => (s < 20 ? 0 : amplitude * Math.sin(omega * (s - 20))))
  const rate = t.map((s) => (s < 20 ? 0 : amplitude * omega * Math.cos(omega * (s - 20))))
  // Nose up: gravity shows on the axis towards the head; the turn is about minus ML (left).
  const acc = {
    x: pitch.map((p) => 9.81 * Math.sin(p)),
    y: new Float64Array(n),
    z: pitch.map((p) => 9.81 * Math.cos(p)),
  }
  const gyr = { x: new Float64Array(n), y: rate.map((r) => BIAS_RAD_S - r), z: new Float64Array(n) }
  return {
    t,
    acc,
    ...(withGyroscope && { gyr }),
    startedAtUs: null,
    rateHz: RATE_HZ,
    marks: [
      { atS: 0, kind: 'quiet-stand-start' },
      { atS: 15, kind: 'quiet-stand-end' },
    ],
  }
}

const measured = (trace: Trace, mount: 'identity' | 'auto') =>
  analyseTrace({ trace, unit: 'm/s2' }, { mount, interval: [25, 35] }).holds[0].sway.degrees

describe('sway in degrees', () => {
  it('of a rocking trunk is amplitude / √2 in pitch and nothing in roll, bias and all', () => {
    const degrees = measured(rocking(true), 'identity')!
    // 10 s hold four whole swings; the filter follows gravity a little, hence 5 %.
    expect(Math.abs(degrees.pitchRmsDeg! / (AMPLITUDE_DEG / Math.SQRT2) - 1)).toBeLessThan(0.05)
    expect(degrees.rollRmsDeg!).toBeLessThan(0.02)
    expect(degrees.tiltRmsDeg).toBeCloseTo(degrees.pitchRmsDeg!, 2)
  })

  it('gives only the tilt while the heading is unresolved', () => {
    const degrees = measured(rocking(true), 'auto')!
    expect(degrees).toMatchObject({ pitchRmsDeg: null, rollRmsDeg: null })
    expect(degrees.reason).toMatch(/heading unresolved/)
    expect(Math.abs(degrees.tiltRmsDeg / (AMPLITUDE_DEG / Math.SQRT2) - 1)).toBeLessThan(0.05)
  })

  it('is left out without a gyroscope', () => {
    expect(measured(rocking(false), 'identity')).toBeUndefined()
  })
})
