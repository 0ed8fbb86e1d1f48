import { describe, expect, it } from 'vitest'
import { analyseTrace } from '#signal/report'
import { createRandom } from '#signal/simulator/random'
import type { Trace } from '#signal/trace/trace'
import { StampIndex } from '../../../dashboard/sources/phone/stamp-index'
import { stamps } from './made-motion'

const indices = (stampsMs: readonly number[], rateHz: number) => {
  const index = new StampIndex(rateHz)
  return stampsMs.map((atMs) => index.place(atMs))
}

describe('StampIndex', () => {
  it('counts events that come evenly', () => {
    expect(indices(stamps(500, 60), 60)).toEqual(Array.from({ length: 500 }, (_, i) => i))
  })

  it('keeps every event in its own place with jitter of 4 ms, also where stamps fall between two places', () => {
    const random = createRandom('jitter')
    // The first event came half a period early: every other stamp lies on the border of two places.
    const jittered = stamps(2000, 60, (i) => (i === 0 ? -8.3 : random.uniform(-4, 4)))
    expect(indices(jittered, 60)).toEqual(Array.from({ length: 2000 }, (_, i) => i))
  })

  it('leaves places empty for events that never came, by their time', () => {
    const at = stamps(200, 60).filter((_, i) => i !== 50 && (i < 100 || i >= 130))
    const index = new StampIndex(60)
    const placed = at.map((atMs) => index.place(atMs))
    expect(placed[50]).toBe(51)
    expect(placed[99]).toBe(130)
    expect(index.missed).toBe(31)
    expect(index.crowded).toBe(0)
  })

  it('leaves out an event that comes when its place is taken, and goes on in time', () => {
    const index = new StampIndex(60)
    const at = [0, 16.7, 33.3, 34, 50, 66.7]
    expect(at.map((atMs) => index.place(atMs))).toEqual([0, 1, 2, null, 3, 4])
    expect(index.crowded).toBe(1)
  })

  it('ascends, and stays within 0.8 of a period of the time, for any stamps', () => {
    const random = createRandom('any')
    let atMs = 0
    let last = -1
    const index = new StampIndex(60)
    for (let i = 0; i < 5000; i++) {
      const place = index.place(atMs)
      if (place !== null) {
        expect(place).toBeGreaterThan(last)
        expect(Math.abs(place - (atMs / 1000) * 60)).toBeLessThanOrEqual(0.8 + 1e-9)
        last = place
      }
      atMs += random.uniform(0, 1) < 0.05 ? random.uniform(0, 400) : random.uniform(4, 30)
    }
  })

  it('follows a phone whose clock is 0.1 % off its grid by a hole now and then', () => {
    const index = new StampIndex(60)
    for (const atMs of stamps(6000, 59.94)) index.place(atMs)
    // 100 s at 0.06 Hz short: 6 places stay empty.
    expect(index.missed).toBeGreaterThanOrEqual(5)
    expect(index.missed).toBeLessThanOrEqual(7)
    expect(index.crowded).toBe(0)
  })

  it('lets the analysis find sway and tremor within 3 % of the truth, with jitter and rounding', () => {
    // 3 %: jitter of 4 ms turns an 8 Hz tremor by up to 12°, and rounding to 0.1 m/s² adds noise.
    const random = createRandom('grid')
    const tones = (count: number, fromHz: number, toHz: number, rmsMs2: number) =>
      Array.from({ length: count }, () => ({
        hz: random.uniform(fromHz, toHz),
        phase: random.uniform(0, 2 * Math.PI),
        amplitudeMs2: rmsMs2 * Math.sqrt(2 / count),
      }))
    const parts = [0, 1].map(() => [...tones(40, 0.2, 2.5, 0.12), ...tones(6, 7.9, 8.5, 0.06)])
    const motion = (axis: number, tS: number) =>
      parts[axis].reduce((sum, p) => sum + p.amplitudeMs2 * Math.sin(2 * Math.PI * p.hz * tS + p.phase), 0)
    const measured = (tS: readonly number[], takenAtS: readonly number[], stepMs2: number) => {
      const value = (ms2: number) => (stepMs2 > 0 ? Math.round(ms2 / stepMs2) * stepMs2 : ms2)
      const trace: Trace = {
        t: Float64Array.from(tS),
        acc: {
          x: Float64Array.from(takenAtS, (at) => value(motion(0, at))),
          y: Float64Array.from(takenAtS, (at) => value(motion(1, at))),
          z: Float64Array.from(takenAtS, () => 9.8),
        },
        startedAtUs: null,
        rateHz: 60,
        marks: [],
      }
      const { sway, tremor } = analyseTrace({ trace, unit: 'm/s2' }, { mount: 'identity', interval: [1, 57] })
        .holds[0]
      return { sway: sway.rms.horizontal, tremor: tremor.bands[0].rms! }
    }
    const even = stamps(3600, 60).map((atMs) => (atMs - 1000) / 1000)
    const truth = measured(even, even, 0)
    const jittered = stamps(3600, 60, () => random.uniform(-4, 4))
    const placed = indices(jittered, 60).map((index) => index! / 60)
    const found = measured(
      placed,
      jittered.map((atMs) => (atMs - 1000) / 1000),
      0.1,
    )
    expect(Math.abs(found.sway / truth.sway - 1)).toBeLessThan(0.03)
    expect(Math.abs(found.tremor / truth.tremor - 1)).toBeLessThan(0.03)
  })
})
