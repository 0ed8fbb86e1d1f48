import { describe, expect, it } from 'vitest'
import { analyseTrace } from '#signal/report'
import { comparableMeasures } from '#signal/session/comparable'
import type { DogStretch } from '#signal/session/dog-stretch'
import { withSteadiness } from '#signal/session/steadiness'
import { simulateSession } from '#signal/simulator/session'
import { padHold, scene } from '../simulator/scenes.ts'

const RATE_HZ = 100

/** Sway of 1 Hz along ML, `amplitudeMs2` high: whole periods in every 5 s, so RMS = amplitude/√2 exactly. */
function sine(startS: number, lengthS: number, amplitudeMs2: number): DogStretch {
  const n = Math.round(lengthS * RATE_HZ)
  const ml = Float64Array.from({ length: n }, (_, i) => amplitudeMs2 * Math.sin((2 * Math.PI * i) / RATE_HZ))
  const axes = { ml, cc: new Float64Array(n), dv: new Float64Array(n) }
  return { startS, raw: axes, lowPassed: axes }
}

function ratio(
  stretches: readonly DogStretch[],
  floor: readonly [number, number] | null,
  basis: 'quiet-stand marks' | 'quietest stretch' = 'quiet-stand marks',
) {
  const on = { stretchesOf: () => stretches, rateHz: RATE_HZ }
  const comparable = comparableMeasures({
    ...on,
    sourceRateHz: RATE_HZ,
    tremorBand: { name: 'tremor', fromHz: 4, toHz: 12 },
    spans: [{ fromS: 20, toS: 40 }],
    basis: 'all hold time',
  })
  return withSteadiness(comparable, floor && { fromS: floor[0], toS: floor[1], basis }, on)
}

const HOLD = sine(20, 20, 0.26)

describe('the steadiness ratio', () => {
  it('is the quotient of the amplitudes for sines, whatever the lengths', () => {
    // Closed form: the RMS of a sine over whole periods is A/√2, and √2 cancels.
    for (const lengthS of [5, 10, 14]) {
      expect(ratio([sine(0, lengthS, 0.1), HOLD], [0, lengthS]).steadinessRatio).toBeCloseTo(2.6, 10)
    }
  })

  it('compares like lengths: a slow drift over the whole stand does not lower it as it does whole-stand RMS', () => {
    const drifting = sine(0, 10, 0.1)
    // 0.02 Hz swings by 0.2 over ten seconds and by half of that within five.
    drifting.lowPassed.ml.forEach((value, i, ml) => {
      ml[i] = value + 0.3 * Math.sin(2 * Math.PI * 0.02 * (i / RATE_HZ))
    })
    const whole = Math.sqrt(mean(drifting.lowPassed.ml.map((v) => v ** 2)) - mean(drifting.lowPassed.ml) ** 2)
    const byWhole = 0.26 / Math.SQRT2 / whole
    expect(ratio([drifting, HOLD], [0, 10]).steadinessRatio!).toBeGreaterThan(1.2 * byWhole)
  })

  it('is null with the reason without a marked quiet stand, and for a stand below 5 s', () => {
    const stretches = [sine(0, 12, 0.1), HOLD]
    for (const none of [ratio(stretches, null), ratio(stretches, [0, 12], 'quietest stretch')]) {
      expect(none.steadinessRatio).toBeNull()
      expect(none.reason).toBe('no steadiness ratio: no quiet stand marked on the floor')
    }
    const short = ratio(stretches, [0, 4.9])
    expect(short.steadinessRatio).toBeNull()
    expect(short.reason).toContain('the quiet stand holds no gap-free 5 s')
  })

  it('is null, with the reason of the sway, when nothing was comparable or the stand was frozen', () => {
    const nothing = ratio([sine(0, 12, 0.1)], [0, 12])
    expect(nothing).toMatchObject({ swayRms: null, steadinessRatio: null })
    expect(nothing.reason).toContain('pieces of 5 s: 0')
    expect(ratio([sine(0, 12, 0), HOLD], [0, 12]).steadinessRatio).toBeNull()
  })

  it('does not change with the gain of the sensor, as the sway itself does', () => {
    const { trace } = simulateSession(
      scene([
        { kind: 'quiet-stand', durationS: 12 },
        { kind: 'step-up', durationS: 2 },
        padHold(16),
        { kind: 'step-down', durationS: 2 },
        { kind: 'rest', durationS: 8 },
      ]),
    )
    const gain = 1.03
    const louder = {
      ...trace,
      acc: {
        x: trace.acc.x.map((v) => gain * v),
        y: trace.acc.y.map((v) => gain * v),
        z: trace.acc.z.map((v) => gain * v),
      },
    }
    const [plain, scaled] = [trace, louder].map(
      (one) => analyseTrace({ trace: one, unit: 'm/s2' }, { mount: 'identity' }).session.comparable,
    )
    // Edges of holds may move by a tick of 0.1 s; with the same pieces both agree to rounding.
    expect(plain.pieces).toBe(3)
    expect(Math.abs(scaled.swayRms! / plain.swayRms! / gain - 1)).toBeLessThan(0.01)
    expect(Math.abs(scaled.steadinessRatio! / plain.steadinessRatio! - 1)).toBeLessThan(0.01)
    // The test dog sways twice as much on the pad; two pieces of floor and three of pad leave wide room.
    expect(plain.steadinessRatio!).toBeGreaterThan(1.3)
    expect(plain.steadinessRatio!).toBeLessThan(3)
  })
})

function mean(x: Float64Array): number {
  return x.reduce((sum, value) => sum + value, 0) / x.length
}
