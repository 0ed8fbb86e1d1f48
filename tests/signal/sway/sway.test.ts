import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { DogAxes } from '#signal/sway/dog-axes'
import { cutAxes, sampleCount } from '#signal/sway/dog-axes'
import { swayJerk } from '#signal/sway/jerk'
import { lowPassStretch } from '#signal/sway/low-pass'
import { swaySpectrum } from '#signal/sway/sway-spectrum'
import { swayMeasures } from '#signal/sway/sway'
import { noise, sines, standingDog } from '../../reference/signals.ts'

const SEED = 41
const rateHz = 100

/** The heading turned by an angle about DV. */
function turnAboutDv({ ml, cc, dv }: DogAxes, angle: number): DogAxes {
  const [c, s] = [Math.cos(angle), Math.sin(angle)]
  return { ml: ml.map((m, i) => c * m - s * cc[i]), cc: ml.map((m, i) => s * m + c * cc[i]), dv }
}
const mapAxes = ({ ml, cc, dv }: DogAxes, change: (value: number) => number): DogAxes => ({
  ml: ml.map(change),
  cc: cc.map(change),
  dv: dv.map(change),
})
/** What does not depend on the heading. */
const planar = ({ rms, path, pathRate, jerk, ellipse }: ReturnType<typeof swayMeasures>) => [
  rms.horizontal,
  rms.dv,
  path,
  pathRate,
  jerk,
  ellipse.area,
  ellipse.major,
  ellipse.minor,
]

describe('swayMeasures', () => {
  it('of a sine of amplitude A over whole periods has RMS A/√2 and range 2A', () => {
    const ml = sines(1000, rateHz, [[0.2, 1, 0]])
    const { rms, range } = swayMeasures({ ml, cc: new Float64Array(1000), dv: ml }, rateHz)
    expect(rms.ml).toBeCloseTo(0.2 / Math.SQRT2, 12)
    expect(rms.cc).toBe(0)
    expect(rms.horizontal).toBeCloseTo(rms.ml, 15)
    // The peaks at a quarter and three quarters of 100 samples are hit exactly.
    expect(range.ml).toBeCloseTo(0.4, 12)
  })

  it('of a circle has the path 2πA per turn and a path rate over n samples', () => {
    const ml = sines(1001, rateHz, [[0.2, 1, 0]])
    const cc = sines(1001, rateHz, [[0.2, 1, Math.PI / 2]])
    const { path, pathRate } = swayMeasures({ ml, cc, dv: ml }, rateHz)
    // 100 chords a turn: 2A·sin(π/100) each.
    expect(path).toBeCloseTo(1000 * 0.4 * Math.sin(Math.PI / 100), 10)
    expect(pathRate).toBeCloseTo(path / 10.01, 12)
  })

  it('of a motionless dog is zero', () => {
    const still = {
      ml: new Float64Array(50).fill(0.1),
      cc: new Float64Array(50),
      dv: new Float64Array(50).fill(9.8),
    }
    // 1e-15: the mean of fifty equal numbers is rounded.
    for (const value of planar(swayMeasures(still, rateHz))) expect(value).toBeLessThan(1e-14)
  })

  it('does not depend on the heading, about DV', () => {
    const dog = standingDog(500, rateHz)
    const expected = planar(swayMeasures(dog, rateHz))
    fc.assert(
      fc.property(fc.double({ min: -7, max: 7, noNaN: true }), (angle) => {
        planar(swayMeasures(turnAboutDv(dog, angle), rateHz)).forEach((value, i) =>
          expect(Math.abs(value / expected[i] - 1)).toBeLessThan(1e-10),
        )
      }),
      { seed: SEED },
    )
  })

  it('scales with the signal, squared for jerk and area, and ignores an offset', () => {
    const dog = standingDog(500, rateHz)
    const base = swayMeasures(dog, rateHz)
    fc.assert(
      fc.property(
        fc.double({ min: 0.01, max: 100, noNaN: true }),
        fc.double({ min: -10, max: 10, noNaN: true }),
        (factor, offset) => {
          const moved = swayMeasures(
            mapAxes(dog, (value) => factor * value + offset),
            rateHz,
          )
          const ratios = [
            moved.rms.horizontal / base.rms.horizontal / factor,
            moved.rms.dv / base.rms.dv / factor,
            moved.range.cc / base.range.cc / factor,
            moved.path / base.path / factor,
            moved.jerk / base.jerk / factor ** 2,
            moved.ellipse.area / base.ellipse.area / factor ** 2,
          ]
          // 1e-9: an offset of 10 leaves 14 digits of a signal of 0.01.
          for (const ratio of ratios) expect(Math.abs(ratio - 1)).toBeLessThan(1e-9)
        },
      ),
      { seed: SEED },
    )
  })

  it('is the same wherever the interval lies in time', () => {
    const dog = standingDog(500, rateHz)
    const padded = mapAxes(dog, (value) => value)
    const longer = {
      ml: Float64Array.of(...noise(77), ...padded.ml),
      cc: Float64Array.of(...noise(77), ...padded.cc),
      dv: Float64Array.of(...noise(77), ...padded.dv),
    }
    expect(swayMeasures(cutAxes(longer, 77, 577), rateHz)).toEqual(swayMeasures(dog, rateHz))
  })

  it('refuses fewer than 3 samples and unequal axes', () => {
    const few = new Float64Array(2)
    expect(() => swayMeasures({ ml: few, cc: few, dv: few }, rateHz)).toThrow(
      'swayMeasures requires at least 3 samples, got 2',
    )
    expect(() => sampleCount({ ml: few, cc: few, dv: new Float64Array(3) })).toThrow(TypeError)
  })
})

describe('swayJerk', () => {
  it('of a ramp is half the squared slope times the time between first and last sample', () => {
    const ramp = Float64Array.from({ length: 101 }, (_, i) => 0.03 * i)
    // Slope 3 m/s³ for 1 s.
    expect(swayJerk(ramp, new Float64Array(101), rateHz)).toBeCloseTo(0.5 * 9 * 1, 12)
  })

  it('refuses 2 samples, unequal axes and a rate of 0', () => {
    expect(() => swayJerk(new Float64Array(2), new Float64Array(2), rateHz)).toThrow(RangeError)
    expect(() => swayJerk(new Float64Array(3), new Float64Array(4), rateHz)).toThrow(TypeError)
    expect(() => swayJerk(new Float64Array(3), new Float64Array(3), 0)).toThrow(RangeError)
  })
})

describe('lowPassStretch', () => {
  it('removes the mean of the stretch and what is fast, and keeps sway', () => {
    const n = 2000
    const slow = sines(n, rateHz, [[0.1, 0.5, 0]])
    const fast = sines(n, rateHz, [[0.1, 12, 0]])
    const raw = slow.map((value, i) => value + fast[i] + 9.8)
    const { dv } = lowPassStretch({ ml: slow, cc: slow, dv: raw }, rateHz)
    // (3.5/12)^8 twice over: below 1e-4 of 0.1 remains; 2e-5 at the quiet middle.
    for (let i = 500; i < 1500; i++) expect(Math.abs(dv[i] - slow[i])).toBeLessThan(2e-5)
  })

  it('refuses a rate the corner does not fit', () => {
    const x = new Float64Array(20)
    expect(() => lowPassStretch({ ml: x, cc: x, dv: x }, 7)).toThrow(/0 < cutoffHz < 3.5/)
  })
})

describe('swaySpectrum', () => {
  it('finds half of the power of a 0.5 Hz sway at 0.5 Hz', () => {
    const { f50Hz, totalPower, reason } = swaySpectrum(
      {
        ml: sines(1000, rateHz, [[0.1, 0.5, 0]]),
        cc: sines(1000, rateHz, [[0.1, 1.5, 0]]),
        dv: new Float64Array(1000),
      },
      rateHz,
    )
    expect(f50Hz).toEqual({ ml: 0.5, cc: 1.5 })
    expect(totalPower.ml).toBeCloseTo(0.005, 9)
    expect(reason).toBeUndefined()
  })

  it('is null with a reason under 2 s, and for an axis that only carries an offset', () => {
    const sway = sines(1000, rateHz, [[0.1, 0.5, 0]])
    const short = swaySpectrum(cutAxes({ ml: sway, cc: sway, dv: sway }, 0, 199), rateHz)
    expect(short.f50Hz).toEqual({ ml: null, cc: null })
    expect(short.reason).toMatch(/shorter than 2 s/)
    const flat = swaySpectrum({ ml: sway, cc: new Float64Array(1000).fill(9.81), dv: sway }, rateHz)
    expect(flat.centroidHz.ml).not.toBeNull()
    expect(flat.centroidHz.cc).toBeNull()
    expect(flat.reason).toMatch(/without motion/)
  })
})
