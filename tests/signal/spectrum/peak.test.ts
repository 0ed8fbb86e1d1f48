import { describe, expect, it } from 'vitest'
import { FALSE_PEAK_RATE, MIN_DISTINCT_FACTOR, distinctFactor } from '#signal/spectrum/distinct-factor'
import { spectralPeak } from '#signal/spectrum/peak'
import { robustLine } from '#signal/spectrum/robust-line'
import { welch } from '#signal/spectrum/welch'
import { createRandom } from '#signal/simulator/random'
import { sines } from '../../reference/signals.ts'

const rateHz = 100
const normalNoise = (label: string, n: number) => {
  const random = createRandom(label)
  return Float64Array.from({ length: n }, () => random.normal())
}

describe('spectralPeak', () => {
  it('finds a sine between bins within 0.05 Hz and calls it distinct', () => {
    const raw = normalNoise('sine', 500)
    const x = sines(500, rateHz, [[0.5, 6.37, 0.2]]).map((value, i) => value + 0.1 * raw[i])
    const peak = spectralPeak(welch(x, rateHz, { segmentSamples: 200 }), 4, 12)!
    expect(Math.abs(peak.peakHz - 6.37)).toBeLessThan(0.05)
    expect(peak.distinct).toBe(true)
    // A Hann line is 1.44 bins of 0.5 Hz wide at half power (Heinzel et al. 2002, from memory).
    expect(peak.halfPowerWidthHz).toBeGreaterThan(0.5)
    expect(peak.halfPowerWidthHz).toBeLessThan(1)
  })

  it('takes the slope of a peak below the band for no peak', () => {
    const psd = welch(sines(1000, rateHz, [[1, 3.5, 0]]), rateHz, { segmentSamples: 200 })
    const falling = { ...psd, density: psd.frequencyHz.map((f) => 1 / (1 + (f - 3.5) ** 2)) }
    expect(spectralPeak(falling, 4, 12)).toBeNull()
    expect(spectralPeak(falling, 3, 12)!.peakHz).toBeCloseTo(3.5, 6)
  })

  it('keeps a local maximum that sits on the edge bin of the band', () => {
    const x = sines(1000, rateHz, [[1, 4, 0]])
    expect(spectralPeak(welch(x, rateHz, { segmentSamples: 200 }), 4, 12)!.peakHz).toBeCloseTo(4, 6)
    expect(spectralPeak(welch(x, rateHz, { segmentSamples: 200 }), 1, 4)!.peakHz).toBeCloseTo(4, 6)
  })

  it('does not let the second harmonic raise the background', () => {
    const raw = normalNoise('harmonic', 1000)
    const at = (second: number) => {
      const x = sines(1000, rateHz, [
        [0.3, 6, 0],
        [second, 12, 0],
      ]).map((value, i) => value + 0.05 * raw[i])
      return spectralPeak(welch(x, rateHz, { segmentSamples: 200 }), 4, 10)!.background!
    }
    expect(Math.abs(at(0.3) / at(0) - 1)).toBeLessThan(0.1)
  })

  it('calls a hump wider than 2 Hz not distinct, however high', () => {
    const psd = welch(normalNoise('hump', 3000), rateHz, { segmentSamples: 400 })
    const hump = { ...psd, density: psd.frequencyHz.map((f) => 0.001 + Math.exp(-(((f - 8) / 2) ** 2))) }
    const peak = spectralPeak(hump, 4, 12)!
    expect(peak.halfPowerWidthHz).toBeGreaterThan(2)
    expect(peak.distinct).toBe(false)
  })

  it.each([
    [2, 2],
    [5, 2],
    [12, 2],
    [30, 4],
  ])('calls at most one noise recording in fifty distinct: %i s in segments of %i s', (seconds, segmentS) => {
    const random = createRandom(`noise ${seconds}`)
    const recordings = 1000
    let falsePeaks = 0
    for (let r = 0; r < recordings; r++) {
      const x = Float64Array.from({ length: seconds * rateHz }, () => random.normal())
      const psd = welch(x, rateHz, { segmentSamples: segmentS * rateHz })
      if (spectralPeak(psd, 4, 12)?.distinct) falsePeaks++
    }
    // The simulated rate scatters by 0.45 % around a true 2 %; the seed is fixed.
    expect(falsePeaks / recordings).toBeLessThanOrEqual(FALSE_PEAK_RATE)
  })

  it('refuses a band outside the spectrum', () => {
    const psd = welch(normalNoise('band', 400), rateHz, { segmentSamples: 200 })
    expect(() => spectralPeak(psd, 4, 51)).toThrow(RangeError)
    expect(() => spectralPeak(psd, 5, 5)).toThrow(RangeError)
  })
})

describe('distinctFactor', () => {
  it('falls with the number of segments, down to 3', () => {
    const factors = [1, 2, 4, 9, 30, 500].map((segments) => distinctFactor(segments, 17))
    for (let i = 1; i < factors.length; i++) expect(factors[i]).toBeLessThanOrEqual(factors[i - 1])
    expect(factors.at(-1)).toBe(MIN_DISTINCT_FACTOR)
  })

  it('starts from the exact level of one segment: −ln p over exp(−γ), within 5 % of the approximation', () => {
    // Source: |X|² of one segment is exponential; the mean of its logarithm is −γ (Euler's constant).
    const exact = -Math.log(FALSE_PEAK_RATE / 17) / Math.exp(-0.5772156649)
    expect(Math.abs(distinctFactor(1, 17) / 1.15 / exact - 1)).toBeLessThan(0.05)
  })

  it('refuses no segments', () => {
    expect(() => distinctFactor(0, 10)).toThrow(RangeError)
  })
})

describe('robustLine', () => {
  it('finds a line through points of which a fifth lie far off', () => {
    const x = Array.from({ length: 20 }, (_, i) => i)
    const y = x.map((value, i) => 2 - 0.5 * value + 0.01 * (i % 3) + (i % 5 === 0 ? 8 : 0))
    const line = robustLine(x, y)!
    expect(Math.abs(line.slope + 0.5)).toBeLessThan(0.01)
    expect(Math.abs(line.intercept - 2)).toBeLessThan(0.05)
  })

  it('is null for two points and for one x', () => {
    expect(robustLine([1, 2], [1, 2])).toBeNull()
    expect(robustLine([1, 1, 1], [1, 2, 3])).toBeNull()
    expect(() => robustLine([1, 2], [1])).toThrow(TypeError)
  })
})
