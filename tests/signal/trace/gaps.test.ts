import { describe, expect, test } from 'vitest'
import fc from 'fast-check'
import { evenTimes } from './made-trace.ts'
import { findGaps, gapFreeRuns } from '../../../signal/trace/gaps.ts'

describe('gaps', () => {
  test('a step is a gap when longer than 2.5 periods and 50 ms', () => {
    const withStep = (stepS: number, rateHz: number) => {
      const t = evenTimes(20, rateHz)
      return findGaps(Float64Array.from([...t, ...t.map((tS) => tS + t[19] + stepS)]), rateHz).length
    }
    expect([withStep(0.049, 100), withStep(0.05, 100), withStep(0.051, 100)]).toEqual([0, 0, 1])
    expect([withStep(0.099, 25), withStep(0.1, 25), withStep(0.101, 25)]).toEqual([0, 0, 1])
  })
  test('a gap runs from the last sample before it to the first after it', () => {
    expect(findGaps(Float64Array.of(0, 0.01, 0.02, 0.5, 0.51), 100)).toEqual([{ fromS: 0.02, toS: 0.5 }])
  })
  test('runs hold every sample once, in order', () => {
    const steps = fc.array(fc.double({ min: 1e-3, max: 0.2, noNaN: true }), { minLength: 1, maxLength: 60 })
    fc.assert(
      fc.property(steps, (list) => {
        let at = 0
        const t = Float64Array.from(list, (step) => (at += step))
        const runs = gapFreeRuns(t, 100)
        expect(runs[0].from).toBe(0)
        expect(runs.at(-1)?.to).toBe(t.length)
        for (let i = 1; i < runs.length; i++) expect(runs[i].from).toBe(runs[i - 1].to)
      }),
      { seed: 11 },
    )
  })
  test('no samples give no runs; a rate of 0 is refused', () => {
    expect(gapFreeRuns(new Float64Array(0), 100)).toEqual([])
    expect(() => gapFreeRuns(new Float64Array(5), 0)).toThrow(RangeError)
  })
})
