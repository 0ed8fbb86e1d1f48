import { describe, expect, it } from 'vitest'
import { bandTimeCourse } from '#signal/tremor/time-course'
import { sines } from '../../reference/signals.ts'

const rateHz = 100

/** A tremor of amplitude 0.2 m/s² at 8 Hz in the second half only. */
function lateTremor() {
  const ml = sines(2000, rateHz, [[0.2, 8, 0]]).map((value, i) => (i < 1000 ? 0 : value))
  return { ml, cc: new Float64Array(2000), dv: new Float64Array(2000).fill(9.8) }
}

describe('bandTimeCourse', () => {
  it('rises from nothing to A/√2 when a tremor starts', () => {
    const { tS, rms } = bandTimeCourse(lateTremor(), rateHz, 4, 12)
    tS.forEach((t, i) => {
      if (t <= 9) expect(rms[i]).toBeLessThan(1e-12)
      // 1e-6: 8 Hz is a bin of a 2 s window, so the line is wholly inside the band.
      if (t >= 11) expect(Math.abs(rms[i] - 0.2 / Math.SQRT2)).toBeLessThan(1e-6)
    })
  })

  it('has a value each 0.5 s at the middle of whole 2 s windows', () => {
    const { tS } = bandTimeCourse(lateTremor(), rateHz, 4, 12)
    expect([tS[0], tS[1], tS.at(-1), tS.length]).toEqual([1, 1.5, 19, 37])
  })

  it('is empty for a stretch shorter than a window', () => {
    const x = new Float64Array(150)
    expect(bandTimeCourse({ ml: x, cc: x, dv: x }, rateHz, 4, 12)).toEqual({
      tS: new Float64Array(0),
      rms: new Float64Array(0),
    })
  })

  it('refuses windows and hops of no samples and a band above half of the rate', () => {
    const call = (options: object, toHz = 12) => bandTimeCourse(lateTremor(), rateHz, 4, toHz, options)
    expect(() => call({ windowS: 0.01 })).toThrow('bandTimeCourse requires 3 samples a window, got 1')
    expect(() => call({ hopS: 0 })).toThrow('bandTimeCourse requires a hop of at least one sample, got 0 s')
    expect(() => call({}, 60)).toThrow(RangeError)
  })
})
