import { describe, expect, it } from 'vitest'
import { createRandom } from '#signal/simulator/random'
import { rmsInterval } from '#signal/sway/rms-interval'
import { swayMeasures } from '#signal/sway/sway'
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

  it('covers the true RMS of a slow random sway in about 95 % of 60 s holds', () => {
    const random = createRandom('coverage')
    let covered = 0
    const holds = 200
    for (let i = 0; i < holds; i++) {
      const [low, high] = rmsInterval(slowNoise(random, 3000), slowNoise(random, 3000), rateHz)!
      if (low <= Math.SQRT2 && Math.SQRT2 <= high) covered++
    }
    // Percentile intervals of block bootstraps run short of their level: 85 % or more is asked here.
    expect(covered / holds).toBeGreaterThan(0.85)
    expect(covered / holds).toBeLessThan(0.99)
  })

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
