import { describe, expect, it } from 'vitest'
import { createRandom } from '#signal/simulator/random'
import { rmsInterval } from '#signal/sway/rms-interval'
import { deviationRms, swayMeasures } from '#signal/sway/sway'
import { standingDog } from '../../reference/signals.ts'

const rateHz = 50

/** Sway with a memory of about a third of a second and variance 1 per axis: a first-order process. */
function slowNoise(random: ReturnType<typeof createRandom>, n: number): Float64Array {
  const memory = 0.94
  let value = random.normal()
  return Float64Array.from(
    { length: n },
    () => (value = memory * value + Math.sqrt(1 - memory ** 2) * random.normal()),
  )
}

describe('rmsInterval', () => {
  it('encloses the RMS of the interval and is the same every time', () => {
    const { ml, cc, dv } = standingDog(600, rateHz)
    const interval = rmsInterval(ml, cc, rateHz)!
    const { horizontal } = swayMeasures({ ml, cc, dv }, rateHz).rms
    expect(interval[0]).toBeLessThan(horizontal)
    expect(interval[1]).toBeGreaterThan(horizontal)
    expect(rmsInterval(ml, cc, rateHz)).toEqual(interval)
  })

  it.each([3, 5, 10, 60])(
    'covers the mean RMS of %i s stands of a slow random sway about 9 times in 10',
    (seconds) => {
      const random = createRandom('coverage')
      const stands = Array.from({ length: 300 }, () => {
        const [ml, cc] = [slowNoise(random, seconds * rateHz), slowNoise(random, seconds * rateHz)]
        return {
          square: deviationRms(ml) ** 2 + deviationRms(cc) ** 2,
          interval: rmsInterval(ml, cc, rateHz)!,
        }
      })
      // A short stand misses its slowest sway, so the truth is the average over stands of that length.
      const truth = Math.sqrt(stands.reduce((sum, { square }) => sum + square, 0) / stands.length)
      const covered =
        stands.filter(({ interval: [low, high] }) => low <= truth && truth <= high).length / stands.length
      // 300 stands scatter by 1.7 %; bootstraps of few blocks run somewhat short of 95 %.
      expect(covered).toBeGreaterThan(0.84)
      expect(covered).toBeLessThan(0.985)
    },
  )

  it('narrows with the length of the hold', () => {
    const random = createRandom('length')
    const width = (n: number) => {
      const [low, high] = rmsInterval(slowNoise(random, n), slowNoise(random, n), rateHz)!
      return high - low
    }
    expect(width(12000)).toBeLessThan(0.5 * width(750))
  })

  it('is null when fewer than three blocks of 1 s fit', () => {
    const x = standingDog(149, rateHz)
    expect(rmsInterval(x.ml, x.cc, rateHz)).toBeNull()
    const y = standingDog(150, rateHz)
    expect(rmsInterval(y.ml, y.cc, rateHz)).not.toBeNull()
  })

  it('of a motionless dog is [0, 0]', () => {
    const still = new Float64Array(500)
    expect(rmsInterval(still, still, rateHz)).toEqual([0, 0])
  })

  it('refuses unequal axes and a rate of 0', () => {
    expect(() => rmsInterval(new Float64Array(3), new Float64Array(4), rateHz)).toThrow(TypeError)
    expect(() => rmsInterval(new Float64Array(3), new Float64Array(3), 0)).toThrow(RangeError)
  })
})
