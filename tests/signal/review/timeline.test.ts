import { describe, expect, it } from 'vitest'
import { analyse } from '#signal/report'
import { timelineOf } from '#signal/review/timeline'
import { simulateSession } from '#signal/simulator/session'
import type { Trace } from '#signal/trace/trace'
import { EVERYTHING, scene } from '../simulator/scenes.ts'

const { trace, truth } = simulateSession(scene(EVERYTHING))

/** The trace without the samples from one time to another. */
function without(fromS: number, toS: number): Trace {
  const kept = Array.from(trace.t.keys()).filter((i) => trace.t[i] < fromS || trace.t[i] >= toS)
  const take = (x: Float64Array) => Float64Array.from(kept, (i) => x[i])
  const acc = { x: take(trace.acc.x), y: take(trace.acc.y), z: take(trace.acc.z) }
  return { ...trace, t: take(trace.t), acc }
}

const analysed = (one: Trace) => analyse({ trace: one, unit: 'm/s2' }, { mount: 'identity' })

describe('timelineOf', () => {
  const whole = timelineOf(analysed(trace), 500)

  it('has exactly as many buckets as asked for, or as there are samples', () => {
    for (const axis of [whole.overview.ml, whole.overview.cc, whole.overview.dv]) {
      expect(axis.min).toHaveLength(500)
      expect(axis.max).toHaveLength(500)
    }
    expect(whole.bucketS * 500).toBeCloseTo(whole.durationS, 9)
    expect(timelineOf(analysed(trace), 1).overview.ml.min).toHaveLength(1)
    expect(timelineOf(analysed(trace), 1e9).overview.ml.min).toHaveLength(trace.t.length)
  })

  it('holds the least and the largest value of each bucket, DV without gravity', () => {
    const analysis = analysed(trace)
    const { gravity } = analysis.report.mount
    const { overview, bucketS } = timelineOf(analysis, 97)
    const least = new Array<number>(97).fill(Number.POSITIVE_INFINITY)
    const most = new Array<number>(97).fill(Number.NEGATIVE_INFINITY)
    trace.t.forEach((t, i) => {
      // Bucket edges fall between samples but for rounding.
      const k = Math.min(96, Math.floor((t + 1e-9) / bucketS))
      least[k] = Math.min(least[k], trace.acc.z[i] - gravity)
      most[k] = Math.max(most[k], trace.acc.z[i] - gravity)
    })
    overview.dv.min.forEach((value, k) => expect(value).toBeCloseTo(least[k], 9))
    overview.dv.max.forEach((value, k) => expect(value).toBeCloseTo(most[k], 9))
    expect(Math.abs(overview.dv.max[3]!)).toBeLessThan(1)
  })

  it('leaves buckets and course empty where signal is missing, and names the gap', () => {
    const { overview, bucketS, course, gaps } = timelineOf(analysed(without(20, 24)), 500)
    expect(gaps).toHaveLength(1)
    expect(gaps[0].fromS).toBeCloseTo(20, 1)
    expect(gaps[0].toS).toBeCloseTo(24, 1)
    for (let k = 0; k < 500; k++) {
      const isInside = k * bucketS > 20 && (k + 1) * bucketS < 24
      const isOutside = (k + 1) * bucketS < 19.9 || k * bucketS > 24.1
      if (isInside) expect(overview.ml.min[k]).toBeNull()
      if (isOutside) expect(overview.ml.min[k]).not.toBeNull()
      expect(overview.ml.min[k] === null).toBe(overview.cc.max[k] === null)
    }
    // A point of the course needs 1 s on both sides.
    const at = (tS: number) => course.swayMs2[Math.round(tS / course.stepS)]
    expect([19.5, 20, 22, 24, 24.5].map(at)).toEqual([null, null, null, null, null])
    expect(at(18.5)).toBeGreaterThan(0)
    expect(at(25.5)).toBeGreaterThan(0)
    expect(course.tremorMs2[Math.round(22 / course.stepS)]).toBeNull()
  })

  it('shows the sway of 2 s: small in the quiet stand, large in the walk', () => {
    const { course } = whole
    expect(course.stepS).toBe(0.5)
    expect(course.swayMs2).toHaveLength(Math.floor(whole.durationS / 0.5))
    const between = (fromS: number, toS: number) =>
      course.swayMs2.slice(Math.ceil(fromS / 0.5), Math.floor(toS / 0.5)).filter((v) => v !== null)
    const stand = between(1, 11)
    const walk = between(truth.walks[0].fromS + 1, truth.walks[0].toS - 1)
    expect(Math.max(...stand)).toBeLessThan(0.2)
    expect(Math.min(...walk)).toBeGreaterThan(2 * Math.max(...stand))
  })

  it('holds no tremor course when the rate cannot carry the band, and numbers or null throughout', () => {
    const slow = simulateSession(scene(EVERYTHING, { rateHz: 25 })).trace
    const timeline = timelineOf(analysed(slow), 300)
    expect(timeline.course.tremorMs2.every((v) => v === null)).toBe(true)
    expect(timeline.course.tremorMs2).toHaveLength(timeline.course.swayMs2.length)
    expect(JSON.parse(JSON.stringify(timeline))).toEqual(timeline)
  })
})
