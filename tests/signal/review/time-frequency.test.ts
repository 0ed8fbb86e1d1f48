import { describe, expect, it } from 'vitest'
import { timeFrequencyOf } from '#signal/review/time-frequency'
import { sines } from '../../reference/signals.ts'

const rateHz = 100
const still = (n: number) => new Float64Array(n)
/** Row and bin of the strongest level. */
const strongest = (levels: number[][]) =>
  levels.map((row) => row.reduce((best, level, k) => (level > row[best] ? k : best), 0))

describe('timeFrequencyOf', () => {
  it('shows when a tremor begins and at which frequency', () => {
    const ml = sines(2000, rateHz, [[0.2, 8, 0]]).map((value, i) => (i < 1000 ? 0 : value))
    const cc = sines(2000, rateHz, [[0.02, 1, 0]])
    const picture = timeFrequencyOf({ ml, cc, dv: still(2000) }, rateHz)!
    expect([picture.fromS, picture.stepS, picture.windowS]).toEqual([1, 0.5, 2])
    expect([picture.frequencyHz[0], picture.frequencyHz.at(-1)]).toEqual([0.5, 20])
    expect(picture.levels).toHaveLength(37)
    strongest(picture.levels).forEach((bin, row) => {
      const middleS = picture.fromS + row * picture.stepS
      if (middleS <= 9) expect(picture.frequencyHz[bin]).toBe(1)
      if (middleS >= 11) expect(picture.frequencyHz[bin]).toBe(8)
    })
    // A²/2 in a bin of 0.5 Hz; the periodic Hann window spreads it over 1.5 bins (Heinzel et al. 2002).
    expect(Math.abs(picture.levels[30][15] - Math.log10(0.2 ** 2 / 2 / 0.75))).toBeLessThan(0.006)
  })

  it('is null where not one window fits', () => {
    expect(timeFrequencyOf({ ml: still(199), cc: still(199), dv: still(199) }, rateHz)).toBeNull()
  })

  it('takes longer steps through a long hold', () => {
    const n = 600 * rateHz
    const picture = timeFrequencyOf({ ml: still(n), cc: still(n), dv: still(n) }, rateHz)!
    expect(picture.levels.length).toBeLessThanOrEqual(240)
    expect(picture.stepS).toBe(2.5)
    expect(picture.levels[0][0]).toBe(-12)
  })

  it('ends at half of a low rate', () => {
    const picture = timeFrequencyOf({ ml: still(100), cc: still(100), dv: still(100) }, 25)!
    expect(picture.frequencyHz.at(-1)).toBe(12.5)
  })
})
