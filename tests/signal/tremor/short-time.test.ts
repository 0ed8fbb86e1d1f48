import { describe, expect, it } from 'vitest'
import { sumPsd, welch } from '#signal/spectrum/welch'
import { createRandom } from '#signal/simulator/random'
import { eachWindow, windowCount } from '#signal/tremor/short-time'

const rateHz = 100
const random = createRandom('short-time')
const noise = () => Float64Array.from({ length: 1730 }, () => random.normal())
const stretch = { ml: noise(), cc: noise(), dv: noise() }

describe('eachWindow', () => {
  // Welch's own density is held to SciPy's in tests/reference.
  it('has on average the density of Welch, when windows overlap by half', () => {
    const windows = { segmentSamples: 200, hopSamples: 100 }
    const whole = sumPsd(
      [stretch.ml, stretch.cc, stretch.dv].map((axis) => welch(axis, rateHz, { segmentSamples: 200 })),
    )
    const mean = new Float64Array(whole.density.length)
    const middles: number[] = []
    eachWindow(stretch, rateHz, windows, (middleS, { density }) => {
      middles.push(middleS)
      density.forEach((value, k) => (mean[k] += value / whole.segments))
    })
    expect(middles).toHaveLength(whole.segments)
    expect(middles.slice(0, 2)).toEqual([1, 2])
    mean.forEach((value, k) => expect(Math.abs(value - whole.density[k])).toBeLessThan(1e-12))
  })

  it('visits whole windows only', () => {
    expect(windowCount(199, { segmentSamples: 200, hopSamples: 50 })).toBe(0)
    expect(windowCount(249, { segmentSamples: 200, hopSamples: 50 })).toBe(1)
    expect(windowCount(250, { segmentSamples: 200, hopSamples: 50 })).toBe(2)
  })

  it('refuses windows and hops of no samples', () => {
    const call = (segmentSamples: number, hopSamples: number) =>
      eachWindow(stretch, rateHz, { segmentSamples, hopSamples }, () => undefined)
    expect(() => call(2, 1)).toThrow('eachWindow requires 3 samples a window, got 2')
    expect(() => call(200, 0)).toThrow('eachWindow requires a hop of at least one sample, got 0')
  })
})
