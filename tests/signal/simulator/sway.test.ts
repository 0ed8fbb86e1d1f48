import { describe, expect, it } from 'vitest'
import { simulateSession } from '#signal/simulator/session'
import type { SimulatedDog } from '#signal/simulator/script'
import type { SimulatedSession } from '#signal/simulator/truth'
import { butterworthLowPass } from '#signal/filter/butterworth'
import { sosfiltfilt } from '#signal/filter/zero-phase'
import { bandPower } from '#signal/spectrum/band-power'
import { welch } from '#signal/spectrum/welch'
import { DOG, centred, deviation, mean, padHold, scene } from './scenes.ts'

const sos = butterworthLowPass(4, 3.5, 100)

/** Horizontal RMS of low-passed 10 s pieces of a level recording, pooled over the pieces. */
function pooledSwayMs2({ trace }: SimulatedSession): number {
  const low = [trace.acc.x, trace.acc.y].map((x) => sosfiltfilt(sos, centred(x)))
  const squares: number[] = []
  for (let from = 500; from + 1000 <= trace.t.length - 500; from += 1000) {
    squares.push(low.reduce((sum, x) => sum + deviation(x.subarray(from, from + 1000)) ** 2, 0))
  }
  return Math.sqrt(mean(Float64Array.from(squares)))
}

function floorStand(dog: Partial<SimulatedDog>, seed: number): SimulatedSession {
  return simulateSession(scene([{ kind: 'quiet-stand', durationS: 300 }], { seed, dog: { ...DOG, ...dog } }))
}

describe('simulated sway', () => {
  it.each([
    [0.02, { cc: 0.4, ml: 0.4 }],
    [0.05, { cc: 0.55, ml: 0.65 }],
    [0.12, { cc: 0.9, ml: 0.8 }],
  ])('has the scripted horizontal RMS of %s m/s² at natural frequencies %o', (floorSwayMs2, naturalHz) => {
    const pooled =
      Math.hypot(...[1, 2].map((seed) => pooledSwayMs2(floorStand({ floorSwayMs2, naturalHz }, seed)))) /
      Math.SQRT2
    // 58 pieces with about 10 degrees of freedom in each axis: standard error about 3 %; 10 % allowed.
    expect(Math.abs(pooled / floorSwayMs2 - 1)).toBeLessThan(0.1)
  })

  it('divides the variance between ML and CC as scripted', () => {
    const { trace } = floorStand({ mlShare: 0.7 }, 3)
    const [cc, ml] = [trace.acc.x, trace.acc.y].map((x) => deviation(sosfiltfilt(sos, x)) ** 2)
    expect(Math.abs(ml / (ml + cc) - 0.7)).toBeLessThan(0.1)
  })

  it('moves CC and ML independently', () => {
    const { trace } = floorStand({}, 4)
    const product =
      mean(trace.acc.x.map((x, i) => x * trace.acc.y[i])) - mean(trace.acc.x) * mean(trace.acc.y)
    // About 300 independent seconds: standard error near 0.06.
    expect(Math.abs(product / (deviation(trace.acc.x) * deviation(trace.acc.y)))).toBeLessThan(0.25)
  })

  it.each([0.4, 0.8])(
    'has its spectral peak near the natural frequency of %s Hz and little above 3.5 Hz',
    (hz) => {
      const { trace } = floorStand({ naturalHz: { cc: hz, ml: hz } }, 5)
      const psd = welch(trace.acc.y, 100, { segmentSamples: 2000 })
      const peakHz = psd.frequencyHz[psd.density.indexOf(Math.max(...psd.density.subarray(2)))]
      expect(peakHz).toBeGreaterThan(0.7 * hz)
      expect(peakHz).toBeLessThan(1.5 * hz)
      expect(bandPower(psd, 3.5, 40) / bandPower(psd, 0.1, 40)).toBeLessThan(0.05)
    },
  )

  it('tells in the truth the RMS that the project definition gives on the noise-free samples', () => {
    const session = simulateSession(
      scene([
        { kind: 'quiet-stand', durationS: 10 },
        { kind: 'step', durationS: 0.5 },
        { kind: 'quiet-stand', durationS: 20 },
      ]),
    )
    const { trace, truth } = session
    const low = [trace.acc.x, trace.acc.y].map((x) => sosfiltfilt(sos, centred(x)))
    for (const stand of truth.stableIntervals) {
      const [from, to] = [stand.fromS, stand.toS].map((atS) => Math.ceil(atS * 100))
      const [cc, ml] = low.map((x) => deviation(x.subarray(from, to)))
      // The truth is computed at 400 Hz; the bilinear low-pass differs by rate and the cut by half a sample.
      expect(Math.abs(cc / stand.swayRmsCc - 1)).toBeLessThan(0.02)
      expect(Math.abs(ml / stand.swayRmsMl - 1)).toBeLessThan(0.02)
      expect(Math.abs(Math.hypot(cc, ml) / stand.swayRmsHorizontal - 1)).toBeLessThan(0.02)
    }
  })

  it('is larger on an unstable surface and smaller with hands on, by the scripted factors', () => {
    const hold = (surface: 'floor' | 'foam pad', support: 'hands-on' | 'hands-off') =>
      pooledSwayMs2(
        simulateSession(
          scene([{ ...padHold(300, support), surface }], {
            seed: 6,
            dog: { ...DOG, unstableFactor: 3, handSupportFactor: 0.4 },
          }),
        ),
      )
    const floor = hold('floor', 'hands-off')
    expect(hold('foam pad', 'hands-off') / floor).toBeCloseTo(3, 1)
    // Hands add slow motion of their own of 0.15 of the hands-off sway: √(0.4² + 0.15²) = 0.43 at most.
    const supported = hold('floor', 'hands-on') / floor
    expect(supported).toBeGreaterThan(0.38)
    expect(supported).toBeLessThan(0.47)
  })

  it('grows within a hold and over repetitions by the scripted weakness', () => {
    const episodes = [1, 2, 3].flatMap(
      () => [{ kind: 'step-up', durationS: 2 }, padHold(20), { kind: 'step-down', durationS: 2 }] as const,
    )
    const growth = { early: 0, late: 0, first: 0, last: 0 }
    for (let seed = 0; seed < 12; seed++) {
      const weak = { ...DOG, weakness: { per10S: 0.5, perRepetition: 0.3 } }
      const { trace, truth } = simulateSession(scene(episodes, { seed, dog: weak }))
      truth.holds.forEach(({ fromS, toS, swayRmsHorizontal }, repetition) => {
        const piece = (from: number, to: number) =>
          deviation(trace.acc.y.filter((_, i) => trace.t[i] >= from && trace.t[i] < to)) ** 2
        growth.early += piece(fromS + 1, fromS + 8)
        growth.late += piece(toS - 8, toS - 1)
        if (repetition === 0) growth.first += swayRmsHorizontal ** 2
        if (repetition === 2) growth.last += swayRmsHorizontal ** 2
      })
    }
    // Within a hold: (1 + 0.05·15.5)/(1 + 0.05·4.5) = 1.45; over repetitions 1.6. Scatter about 10 %.
    expect(Math.sqrt(growth.late / growth.early)).toBeGreaterThan(1.2)
    expect(Math.sqrt(growth.late / growth.early)).toBeLessThan(1.75)
    expect(Math.sqrt(growth.last / growth.first)).toBeGreaterThan(1.35)
    expect(Math.sqrt(growth.last / growth.first)).toBeLessThan(1.9)
  })
})
