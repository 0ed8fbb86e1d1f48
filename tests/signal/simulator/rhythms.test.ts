import { describe, expect, it } from 'vitest'
import { simulateSession } from '#signal/simulator/session'
import type { SessionScript } from '#signal/simulator/script'
import { bandPower } from '#signal/spectrum/band-power'
import type { Psd } from '#signal/spectrum/welch'
import { welch } from '#signal/spectrum/welch'
import type { Vector3Series } from '#signal/trace/trace'
import { DOG, scene } from './scenes.ts'

const STAND = [{ kind: 'quiet-stand', durationS: 60 }] as const

/** Densities of the three axes over the middle of a minute, 4 s segments. */
function densities(series: Vector3Series, rateHz: number): Record<'x' | 'y' | 'z', Psd> {
  const psd = (x: Float64Array) =>
    welch(x.slice(5 * rateHz, 55 * rateHz), rateHz, { segmentSamples: 4 * rateHz })
  return { x: psd(series.x), y: psd(series.y), z: psd(series.z) }
}

function play(part: Partial<SessionScript>): Record<'x' | 'y' | 'z', Psd> {
  const { trace } = simulateSession(scene(STAND, part))
  return densities(trace.acc, trace.rateHz)
}

function rmsInBand(psds: Record<'x' | 'y' | 'z', Psd>, fromHz: number, toHz: number): number {
  return Math.sqrt(Object.values(psds).reduce((sum, psd) => sum + bandPower(psd, fromHz, toHz), 0))
}

describe('simulated rhythms', () => {
  it.each([
    [5.5, 0.05, 50],
    [8.4, 0.09, 100],
    [14.2, 0.12, 200],
  ])('put a tremor of %s Hz and %s m/s² into its band at %s Hz', (frequencyHz, rmsMs2, rateHz) => {
    const still = { ...DOG, floorSwayMs2: 0.02 }
    const tremor = { frequencyHz, rmsMs2, when: 'standing' } as const
    const psds = play({ rateHz, dog: { ...still, tremor } })
    const measured = rmsInBand(psds, frequencyHz - 1.5, frequencyHz + 1.5)
    // Slow amplitude changes over 50 s and sway left in the band: 8 %.
    expect(Math.abs(measured / rmsMs2 - 1)).toBeLessThan(0.08)
    const z = psds.z
    const peakHz = z.frequencyHz[z.density.indexOf(Math.max(...z.density.subarray(12)))]
    expect(Math.abs(peakHz - frequencyHz)).toBeLessThanOrEqual(0.25)
  })

  it('give tremor only where the truth says', () => {
    const tremor = { frequencyHz: 9, rmsMs2: 0.1, when: [{ fromS: 10, toS: 20 }] }
    const { trace, truth } = simulateSession(scene(STAND, { dog: { ...DOG, tremor } }))
    const rms = (fromS: number, toS: number) =>
      rmsInBand(
        {
          x: welch(trace.acc.x.slice(fromS * 100, toS * 100), 100, { segmentSamples: 200 }),
          y: welch(trace.acc.y.slice(fromS * 100, toS * 100), 100, { segmentSamples: 200 }),
          z: welch(trace.acc.z.slice(fromS * 100, toS * 100), 100, { segmentSamples: 200 }),
        },
        7.5,
        10.5,
      )
    expect(truth.tremor).toEqual([{ fromS: 10, toS: 20, frequencyHz: 9, rmsMs2: 0.1 }])
    expect(rms(11, 19)).toBeGreaterThan(0.07)
    expect(rms(22, 55)).toBeLessThan(0.003)
  })

  it('make panting mainly DV and CC with the requested RMS and a harmonic', () => {
    const psds = play({ overlays: [{ kind: 'pant', fromS: 0, toS: 60, frequencyHz: 4.8, rmsMs2: 0.2 }] })
    const total = Math.hypot(rmsInBand(psds, 4, 5.6), rmsInBand(psds, 8.8, 10.4))
    expect(Math.abs(total / 0.2 - 1)).toBeLessThan(0.1)
    const ml = bandPower(psds.y, 4, 5.6)
    expect(bandPower(psds.z, 4, 5.6)).toBeGreaterThan(5 * ml)
    expect(bandPower(psds.x, 4, 5.6)).toBeGreaterThan(5 * ml)
    expect(rmsInBand(psds, 8.8, 10.4) / rmsInBand(psds, 4, 5.6)).toBeCloseTo(0.25, 1)
  })

  it('make tail wag mainly ML and yaw', () => {
    const overlays = [{ kind: 'tail-wag', fromS: 0, toS: 60, frequencyHz: 3.2, rmsMs2: 0.25 }] as const
    const { trace } = simulateSession(scene(STAND, { overlays, sensor: { noiseMs2: 0, gyroscope: true } }))
    const acc = densities(trace.acc, 100)
    const gyr = densities(trace.gyr as Vector3Series, 100)
    expect(bandPower(acc.y, 2.6, 3.8)).toBeGreaterThan(
      10 * (bandPower(acc.x, 2.6, 3.8) + bandPower(acc.z, 2.6, 3.8)),
    )
    expect(bandPower(gyr.z, 2.6, 3.8)).toBeGreaterThan(
      10 * (bandPower(gyr.x, 2.6, 3.8) + bandPower(gyr.y, 2.6, 3.8)),
    )
  })

  it('do not fold what the rate cannot carry into the bands below', () => {
    const quiet = rmsInBand(play({ rateHz: 25 }), 4, 12)
    const tremor = { frequencyHz: 17, rmsMs2: 0.2, when: 'standing' } as const
    const folded = rmsInBand(play({ rateHz: 25, dog: { ...DOG, tremor } }), 4, 12)
    // Unfiltered, 17 Hz sampled at 25 Hz would read 0.2 m/s² at 8 Hz; the sensor filter leaves under 5 % of it.
    expect(folded).toBeLessThan(Math.hypot(quiet, 0.01))
  })
})
