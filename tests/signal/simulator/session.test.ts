import { describe, expect, it } from 'vitest'
import { STANDARD_GRAVITY_MS2 } from '#signal/constants'
import { totalDurationS } from '#signal/simulator/exercise'
import { simulateSession } from '#signal/simulator/session'
import { EVERYTHING, deviation, mean, padHold, scene } from './scenes.ts'

const DURATION_S = totalDurationS(EVERYTHING)

describe('simulateSession', () => {
  it('gives the same samples, marks and truth for the same script', () => {
    const script = scene(EVERYTHING, {
      sensor: { gyroscope: true },
      clock: { ppm: 20, jitterS: 0.0005 },
      marks: { lagS: 0.2, sdS: 0.1 },
    })
    expect(simulateSession(script)).toEqual(simulateSession(script))
  })

  it('gives other sway for another seed', () => {
    const one = simulateSession(scene([{ kind: 'quiet-stand', durationS: 5 }], { seed: 1 }))
    const two = simulateSession(scene([{ kind: 'quiet-stand', durationS: 5 }], { seed: 2 }))
    expect(one.trace.acc.x).not.toEqual(two.trace.acc.x)
  })

  it('takes rate times duration samples of finite values, ascending from 0', () => {
    for (const rateHz of [25, 60, 104, 200]) {
      const { trace } = simulateSession(scene(EVERYTHING, { rateHz, clock: { jitterS: 0.2 / rateHz } }))
      expect(trace.t[0]).toBe(0)
      expect(trace.t.length).toBe(Math.floor(DURATION_S * rateHz))
      expect(trace.t.every((tS, i) => i === 0 || tS > trace.t[i - 1])).toBe(true)
      for (const x of [trace.acc.x, trace.acc.y, trace.acc.z]) expect(x.every(Number.isFinite)).toBe(true)
    }
  })

  it('samples at the true rate, which the truth tells', () => {
    const { trace, truth } = simulateSession(
      scene([{ kind: 'quiet-stand', durationS: 100 }], { clock: { ppm: 80 } }),
    )
    expect(truth.rateHz).toBeCloseTo(100.008, 9)
    const last = trace.t.length - 1
    expect(last / trace.t[last]).toBeCloseTo(100.008, 9)
  })

  it('shows standard gravity at rest, upwards, whatever the mount', () => {
    const mount = { rotation: { rollDeg: 130, pitchDeg: -40, yawDeg: 75 } }
    const { trace } = simulateSession(scene([{ kind: 'quiet-stand', durationS: 60 }], { mount }))
    const norm = mean(trace.acc.x.map((x, i) => Math.hypot(x, trace.acc.y[i], trace.acc.z[i])))
    // The norm of gravity plus horizontal sway of 0.05 m/s² exceeds gravity by 0.05²/(2·9.8) = 0.00013.
    expect(Math.abs(norm - STANDARD_GRAVITY_MS2)).toBeLessThan(0.001)
  })

  it('keeps sway and rhythms when the sensor has a gyroscope or not', () => {
    const without = simulateSession(scene(EVERYTHING))
    const withGyroscope = simulateSession(scene(EVERYTHING, { sensor: { noiseMs2: 0, gyroscope: true } }))
    expect(withGyroscope.trace.acc).toEqual(without.trace.acc)
    expect(withGyroscope.trace.gyr?.x.length).toBe(without.trace.t.length)
    expect(without.trace.gyr).toBeUndefined()
  })

  it('tells the trunk angle the same way by gyroscope and by gravity when the dog sits', () => {
    const sensor = { noiseMs2: 0, gyroscope: true, gyroscopeNoiseRadS: 0 }
    const episodes = [
      { kind: 'quiet-stand', durationS: 5 },
      { kind: 'sit', durationS: 8, pitchDeg: 35 },
    ] as const
    const { trace } = simulateSession(scene(episodes, { sensor }))
    const from = trace.t.findIndex((tS) => tS >= 2)
    const to = trace.t.findIndex((tS) => tS >= 9)
    let turnedRad = 0
    for (let i = from; i < to; i++) turnedRad += (trace.gyr as typeof trace.acc).y[i] / trace.rateHz
    const tilt = (i: number) => Math.atan2(-trace.acc.x[i], Math.hypot(trace.acc.y[i], trace.acc.z[i]))
    // Sway translation disturbs the tilt by about 0.05/9.8 rad = 0.3°; nose up is a negative turn about ML.
    expect(Math.abs(turnedRad - (tilt(to) - tilt(from)))).toBeLessThan((1 * Math.PI) / 180)
    expect(Math.abs((tilt(to) * 180) / Math.PI + 35)).toBeLessThan(1.5)
  })

  it('keeps every kind of motion but stands out of the stable intervals', () => {
    const { trace, truth } = simulateSession(scene(EVERYTHING))
    const inside = (from: number, to: number) =>
      truth.stableIntervals.some((s) => s.fromS < to && from < s.toS)
    for (const spans of [truth.walks, truth.rests, truth.handlings, truth.sits, truth.lies, truth.steps]) {
      expect(spans.length).toBeGreaterThan(0)
      for (const { fromS, toS } of spans) expect(inside(fromS + 1e-9, toS - 1e-9)).toBe(false)
    }
    for (const { fromS, toS, place } of truth.stableIntervals) {
      const z = trace.acc.z.filter((_, i) => trace.t[i] >= fromS + 0.3 && trace.t[i] < toS - 0.3)
      expect(deviation(z), `${place} at ${fromS}`).toBeLessThan(0.05)
    }
  })

  it('lists stands and their parts in order, with what ended them', () => {
    const { stableIntervals, holds } = simulateSession(scene(EVERYTHING)).truth
    expect(stableIntervals.map(({ place, endedBy }) => `${place} ${endedBy}`)).toEqual([
      'quiet-stand walk',
      'hold step',
      'hold step-down',
      'hold sit',
      'hold wobble-off',
      'quiet-stand end',
    ])
    expect(
      holds.map(({ support, endedBy, stableInterval }) => `${support} ${endedBy} ${stableInterval}`),
    ).toEqual([
      'hands-on support 1',
      'hands-off step 1',
      'hands-off step-down 2',
      'hands-off sit 3',
      'hands-off wobble-off 4',
    ])
    for (const hold of holds) {
      const stand = stableIntervals[hold.stableInterval]
      expect(hold.fromS).toBeGreaterThanOrEqual(stand.fromS)
      expect(hold.toS).toBeLessThanOrEqual(stand.toS)
      expect(hold.toS).toBeGreaterThan(hold.fromS)
    }
  })

  it('gives holds the scripted length within the dying away of the transients', () => {
    const { holds } = simulateSession(scene(EVERYTHING)).truth
    const scripted = [4, 8, 6, 5, 5]
    holds.forEach(({ fromS, toS }, i) => expect(Math.abs(toS - fromS - scripted[i])).toBeLessThan(0.3))
  })

  it('marks quiet stands, support changes and repetitions where they are', () => {
    const { trace, truth } = simulateSession(scene(EVERYTHING))
    const at = (kind: string) => trace.marks.filter((mark) => mark.kind === kind).map((mark) => mark.atS)
    expect(at('repetition-start')).toEqual(truth.repetitions.map((span) => span.fromS))
    expect(at('repetition-end')).toEqual(
      truth.repetitions.map((span) => span.toS).filter((toS) => toS < DURATION_S),
    )
    expect(at('support-off')).toEqual([0, 29, 59, 84])
    expect(at('support-on')).toEqual([23, 43.5, 74])
    expect(at('quiet-stand-start')).toHaveLength(2)
    expect(at('walk-start')).toEqual([12])
  })

  it('delays taps by the lag of the script and leaves marks out on request', () => {
    const exact = simulateSession(scene(EVERYTHING)).trace.marks.filter(
      (mark) => mark.kind === 'repetition-start',
    )
    const late = simulateSession(scene(EVERYTHING, { marks: { lagS: 0.4, sdS: 0 } })).trace.marks
    const lateStarts = late.filter((mark) => mark.kind === 'repetition-start')
    lateStarts.forEach((mark, i) => expect(mark.atS - exact[i].atS).toBeCloseTo(0.4, 9))
    expect(simulateSession(scene(EVERYTHING, { marks: 'none' })).trace.marks).toEqual([])
  })

  it('refuses scripts it cannot play, saying which episode and why', () => {
    expect(() => simulateSession(scene([]))).toThrow('at least one episode')
    expect(() => simulateSession(scene([padHold(5)], { rateHz: 10 }))).toThrow(
      'rateHz from 25 to 200, got 10',
    )
    expect(() => simulateSession(scene([{ kind: 'sit', durationS: 1, pitchDeg: 30 }]))).toThrow(
      'sit (episode 0) requires durationS >= 3',
    )
    expect(() => simulateSession(scene([{ kind: 'quiet-stand', durationS: 5 }, padHold(5)]))).toThrow(
      'need a transient between',
    )
  })
})
