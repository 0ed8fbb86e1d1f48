import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { analyseTrace } from '#signal/report'
import { parseTrace } from '#signal/trace/parse'

// Source: human hand tremor from a phone (pdkit/pdkit at b7b6ebbd, MIT), imported as it is: no header,
// nanosecond stamps, jitter.
const text = readFileSync(new URL('./data/pdkit_tremor/postural_left_2458.csv', import.meta.url), 'utf8')

describe('a real tremor recording', () => {
  const report = analyseTrace(parseTrace(text), {
    mount: 'identity',
    interval: [5, 25],
    bands: [{ name: 'tremor', fromHz: 3, toHz: 12 }],
  })
  const [band] = report.holds[0].tremor.bands

  it('is read whole, with its jitter', () => {
    expect(report.trace.samples).toBe(3199)
    // NumPy on the stamps: standard deviation 0.250 ms, longest step 14.55 ms.
    expect(report.quality.jitterSdS).toBeCloseTo(0.00025, 5)
    expect(report.quality.gaps).toEqual([])
  })

  it('shows a distinct peak where SciPy sees the highest bin of the same seconds', () => {
    // SciPy 1.17, samples put on 100 Hz by linear interpolation, welch(nperseg=400), three axes summed:
    // highest bin 7.25 Hz (bins of 0.25 Hz), RMS from 3 to 12 Hz 0.07302 m/s².
    expect(band.distinct).toBe(true)
    expect(Math.abs(band.peakHz! - 7.25)).toBeLessThan(0.125)
    // 1 %: linear interpolation there, monotone cubic here.
    expect(Math.abs(band.rms! / 0.07302253764 - 1)).toBeLessThan(0.01)
  })
})
