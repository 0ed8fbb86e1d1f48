import { describe, expect, it } from 'vitest'
import { analyse } from '#signal/report'
import { holdDetailOf } from '#signal/review/hold-detail'
import { simulateSession } from '#signal/simulator/session'
import { DOG, EVERYTHING, scene } from '../simulator/scenes.ts'

const dog = { ...DOG, tremor: { frequencyHz: 8, rmsMs2: 0.1, when: 'holds' as const } }
const analysis = analyse(
  { trace: simulateSession(scene(EVERYTHING, { dog })).trace, unit: 'm/s2' },
  { mount: 'identity' },
)
const { holds } = analysis.report
const exercise = holds.findIndex(({ role, durationS }) => role === 'exercise' && durationS > 8)

describe('holdDetailOf', () => {
  it('has the path of the hold at 25 points a second, about its mean, with the RMS of the report', () => {
    const { path, index } = holdDetailOf(analysis, exercise)
    const hold = holds[exercise]
    expect(index).toBe(exercise)
    expect(path.stepS).toBe(0.04)
    expect(path.ml.length).toBe(path.cc.length)
    expect(Math.abs(path.ml.length * path.stepS - hold.durationS)).toBeLessThan(0.05)
    const rms = (x: number[]) => Math.sqrt(x.reduce((sum, v) => sum + v * v, 0) / x.length)
    const mean = (x: number[]) => x.reduce((sum, v) => sum + v, 0) / x.length
    // Every fourth sample of a signal below 3.5 Hz: the same RMS within a per cent or so.
    expect(Math.abs(rms(path.ml) / hold.sway.rms.ml! - 1)).toBeLessThan(0.02)
    expect(Math.abs(rms(path.cc) / hold.sway.rms.cc! - 1)).toBeLessThan(0.02)
    expect(Math.abs(mean(path.ml))).toBeLessThan(0.02 * rms(path.ml) + 1e-3)
  })

  it('has the spectrum up to 25 Hz with the tremor in it', () => {
    const { frequencyHz, density } = holdDetailOf(analysis, exercise).spectrum
    expect(frequencyHz).toHaveLength(density.length)
    expect(frequencyHz[0]).toBe(0)
    expect(frequencyHz.at(-1)).toBeLessThanOrEqual(25)
    const strongest = (fromHz: number, toHz: number) =>
      frequencyHz.reduce((best, f, i) => (f >= fromHz && f <= toHz && density[i] > density[best] ? i : best), frequencyHz.findIndex((f) => f >= fromHz)) // prettier-ignore
    expect(Math.abs(frequencyHz[strongest(4, 12)] - 8)).toBeLessThanOrEqual(0.5)
  })

  it('has the picture by time and frequency, with the tremor in every window', () => {
    const { fromS, stepS, frequencyHz, levels } = holdDetailOf(analysis, exercise).timeFrequency!
    expect(levels.length).toBe(Math.floor((holds[exercise].durationS - 2) / 0.5 + 1e-6) + 1)
    expect([fromS, stepS]).toEqual([1, 0.5])
    const [from, to] = [4, 12].map((hz) => frequencyHz.indexOf(hz))
    for (const row of levels) {
      const band = row.slice(from, to + 1)
      expect(Math.abs(frequencyHz[from + band.indexOf(Math.max(...band))] - 8)).toBeLessThanOrEqual(0.5)
    }
  })

  it('names the range of indices when there is no such hold', () => {
    expect(() => holdDetailOf(analysis, holds.length)).toThrow(
      `holdDetailOf requires 0 <= index < ${holds.length}, got ${holds.length}`,
    )
    expect(() => holdDetailOf(analysis, -1)).toThrow(RangeError)
  })
})
