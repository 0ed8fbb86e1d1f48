import { describe, expect, it } from 'vitest'
import { STANDARD_GRAVITY_MS2 } from '#signal/constants'
import { audibleSpan, raisedCosine } from '#signal/simulator/burst'
import { simulateSession } from '#signal/simulator/session'
import type { SimulatedSession } from '#signal/simulator/truth'
import { DOG, padHold, scene } from './scenes.ts'

const CALM = { ...DOG, floorSwayMs2: 0.01, unstableFactor: 1 }

/** Largest |a − (0, 0, g)| in an interval. */
function peak({ trace }: SimulatedSession, fromS: number, toS: number): number {
  let largest = 0
  trace.t.forEach((tS, i) => {
    if (tS < fromS || tS >= toS) return
    largest = Math.max(
      largest,
      Math.hypot(trace.acc.x[i], trace.acc.y[i], trace.acc.z[i] - STANDARD_GRAVITY_MS2),
    )
  })
  return largest
}

describe('simulated transients', () => {
  it.each([0.8, 2, 4])('give a step the peak of %s m/s² and keep the stands beside it calm', (peakMs2) => {
    const episodes = [padHold(6), { kind: 'step', durationS: 0.5, peakMs2 }, padHold(6)] as const
    const session = simulateSession(scene(episodes, { rateHz: 200, dog: CALM }))
    const { fromS, toS } = session.truth.steps[0]
    // Peak of the translation; the trunk's wobble of up to 1.5° (0.26 m/s²) comes on top or against it.
    expect(Math.abs(peak(session, fromS, toS) - peakMs2)).toBeLessThan(0.3 + 0.05 * peakMs2)
    expect(peak(session, 0.5, fromS)).toBeLessThan(0.05 * peakMs2 + 0.06)
    expect(session.truth.steps).toEqual([{ fromS, toS, peakMs2 }])
  })

  it('bound a step by 5 % of its envelope', () => {
    const burst = { fromS: 0, toS: 2, riseS: 0.4, fallS: 1 }
    const { fromS, toS } = audibleSpan(burst)
    expect(raisedCosine(fromS / burst.riseS)).toBeCloseTo(0.05, 12)
    expect(raisedCosine((burst.toS - toS) / burst.fallS)).toBeCloseTo(0.05, 12)
  })

  it('carry an impact in the vertical axis and start smoothly', () => {
    const episodes = [padHold(4), { kind: 'step', durationS: 0.4, peakMs2: 3 }, padHold(4)] as const
    const { trace, truth } = simulateSession(scene(episodes, { rateHz: 200, dog: CALM }))
    const [{ fromS, toS }] = truth.steps
    const inside = trace.acc.z.filter((_, i) => trace.t[i] >= fromS && trace.t[i] < toS)
    expect(Math.max(...inside.map((z) => Math.abs(z - STANDARD_GRAVITY_MS2)))).toBeGreaterThan(0.7)
    const jumps = trace.acc.z.map((z, i) => (i === 0 ? 0 : Math.abs(z - trace.acc.z[i - 1])))
    // 3 m/s² at up to 10 Hz changes by at most 3·2π·10/200 = 0.94 m/s² from sample to sample.
    expect(Math.max(...jumps)).toBeLessThan(0.95)
  })

  it.each([20, 35, 50])('pitch a sitting dog nose up by %s° within about a second, and back', (pitchDeg) => {
    const episodes = [
      { kind: 'quiet-stand', durationS: 5 },
      { kind: 'sit', durationS: 8, pitchDeg },
      { kind: 'quiet-stand', durationS: 5 },
    ] as const
    const { trace } = simulateSession(scene(episodes, { dog: CALM }))
    const pitchAt = (atS: number) => {
      const i = trace.t.findIndex((tS) => tS >= atS)
      return (Math.atan2(trace.acc.x[i], trace.acc.z[i]) * 180) / Math.PI
    }
    expect(Math.abs(pitchAt(4))).toBeLessThan(1)
    for (const atS of [6.6, 9, 11.5]) expect(Math.abs(pitchAt(atS) - pitchDeg)).toBeLessThan(2)
    expect(Math.abs(pitchAt(14))).toBeLessThan(1)
  })

  it('walk with CC the strongest horizontal axis, speeding up first and slowing down last', () => {
    const episodes = [
      { kind: 'quiet-stand', durationS: 3 },
      { kind: 'walk', durationS: 6 },
      { kind: 'quiet-stand', durationS: 3 },
    ] as const
    for (let seed = 0; seed < 5; seed++) {
      const { trace } = simulateSession(scene(episodes, { seed }))
      const power = (x: Float64Array) => x.subarray(300, 900).reduce((sum, value) => sum + value ** 2, 0)
      const meanCc = (from: number, to: number) =>
        trace.acc.x.subarray(from, to).reduce((sum, x) => sum + x, 0) / (to - from)
      expect(power(trace.acc.x)).toBeGreaterThan(2 * power(trace.acc.y))
      expect(meanCc(300, 380) - meanCc(820, 900)).toBeGreaterThan(0.5)
    }
  })

  it('keep resting and handling from ever being calm for a second', () => {
    const { trace, truth } = simulateSession(
      scene([
        { kind: 'rest', durationS: 20 },
        { kind: 'handling', durationS: 10 },
      ]),
    )
    for (const { fromS, toS } of [...truth.rests, ...truth.handlings]) {
      for (let atS = fromS; atS + 1 < toS; atS += 0.5)
        expect(peak({ trace, truth }, atS, atS + 1)).toBeGreaterThan(0.25)
    }
  })
})
