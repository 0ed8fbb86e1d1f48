import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { DEFAULT_BANDS } from '#signal/constants'
import { createRandom } from '#signal/simulator/random'
import type { DogAxes } from '#signal/sway/dog-axes'
import { tremorBands } from '#signal/tremor/tremor'
import type { Sine } from '../../reference/signals.ts'
import { sines, standingDog } from '../../reference/signals.ts'

const rateHz = 100
const [TREMOR] = DEFAULT_BANDS
const resolved = { headingResolved: true }

/** Quiet noise of 0.01 m/s² on all axes, with sines on top. */
function dog(seconds: number, components: Partial<Record<keyof DogAxes, Sine[]>>, atHz = rateHz): DogAxes {
  const n = Math.round(seconds * atHz)
  const random = createRandom('quiet')
  const axis = (name: keyof DogAxes) =>
    sines(n, atHz, components[name] ?? []).map((value) => value + 0.01 * random.normal())
  return { ml: axis('ml'), cc: axis('cc'), dv: axis('dv') }
}
const inTremorBand = (axes: DogAxes, options = resolved) =>
  tremorBands(axes, rateHz, [TREMOR], rateHz, options)[0]

describe('tremorBands', () => {
  it('gives a distinct tremor its frequency and its power A²/2', () => {
    const report = inTremorBand(dog(10, { ml: [[0.3, 8.2, 0]], cc: [[0.2, 8.2, 1]] }))
    expect(report.distinct).toBe(true)
    expect(report.reason).toBeUndefined()
    expect(report.lookalike).toBeNull()
    expect(Math.abs(report.peakHz! - 8.2)).toBeLessThan(0.02)
    // 2 %: the noise adds 3 · 1e-4 · 8/50 to 0.065.
    expect(Math.abs(report.power! / 0.065 - 1)).toBeLessThan(0.02)
    expect(report.rms).toBeCloseTo(Math.sqrt(report.power!), 15)
  })

  it('does not depend on how the sensor is turned', () => {
    const axes = dog(10, { ml: [[0.3, 8.2, 0]], dv: [[0.1, 6, 0]] })
    const expected = inTremorBand(axes)
    fc.assert(
      fc.property(fc.double({ min: 0, max: 6.3, noNaN: true }), (angle) => {
        const [c, s] = [Math.cos(angle), Math.sin(angle)]
        const turned = {
          ml: axes.ml.map((value, i) => c * value - s * axes.dv[i]),
          cc: axes.cc,
          dv: axes.ml.map((value, i) => s * value + c * axes.dv[i]),
        }
        const report = inTremorBand(turned)
        expect(Math.abs(report.power! / expected.power! - 1)).toBeLessThan(1e-12)
        expect(Math.abs(report.peakHz! - expected.peakHz!)).toBeLessThan(1e-9)
      }),
      { seed: 51, numRuns: 20 },
    )
  })

  it('says "no distinct peak" for noise, with the numbers', () => {
    const report = inTremorBand(dog(10, {}))
    expect(report.distinct).toBe(false)
    expect(report.power).toBeGreaterThan(0)
    expect(report.reason).toMatch(/^no distinct peak: \d\.\d times its background, \d\.\d needed$/)
  })

  it('gives power but no peak under 2 s', () => {
    const report = inTremorBand(dog(1.5, { ml: [[0.3, 8, 0]] }))
    expect(report.power).toBeGreaterThan(0.03)
    expect([report.peakHz, report.peakWidthHz, report.distinct]).toEqual([null, null, false])
    expect(report.reason).toMatch(/shorter than 2 s/)
  })

  it('leaves out bands the sensor rate does not carry', () => {
    const slow = dog(10, { ml: [[0.3, 5, 0]] }, 25)
    const [tremor, fast, sway] = tremorBands(slow, 25, DEFAULT_BANDS, 25, resolved)
    // 2.5 · 12 Hz = 30 Hz.
    expect([tremor.power, tremor.rms, tremor.peakHz]).toEqual([null, null, null])
    expect(tremor.reason).toBe('sensor rate 25 Hz is below the 30 Hz that 12 Hz needs')
    expect(fast.power).toBeNull()
    expect(sway.power).toBeGreaterThan(0)
    // 50 Hz of samples made from a 25 Hz sensor carry no more.
    expect(tremorBands(dog(10, {}, 50), 50, [TREMOR], 25, resolved)[0].power).toBeNull()
    expect(tremorBands(dog(10, {}, 50), 50, [TREMOR], 30, resolved)[0].power).not.toBeNull()
    // A fast sensor brought down to 20 Hz carries no 12 Hz either.
    expect(tremorBands(dog(10, {}, 20), 20, [TREMOR], 100, resolved)[0].reason).toMatch(
      /above half of the analysis rate/,
    )
  })

  it('reports no motion as such and no spectrum from a handful of samples', () => {
    const still = {
      ml: new Float64Array(500),
      cc: new Float64Array(500),
      dv: new Float64Array(500).fill(9.8),
    }
    expect(inTremorBand(still)).toMatchObject({
      peakHz: null,
      distinct: false,
      reason: 'no motion in the band',
    })
    expect(inTremorBand(dog(0.05, {})).reason).toBe('only 5 samples, a spectrum needs 8')
  })

  it('refuses no samples, a rate of 0 and an empty band', () => {
    const empty = { ml: new Float64Array(0), cc: new Float64Array(0), dv: new Float64Array(0) }
    expect(() => inTremorBand(empty)).toThrow('tremorBands requires at least one sample')
    const axes = standingDog(300, rateHz)
    expect(() => tremorBands(axes, 0, [TREMOR], rateHz, resolved)).toThrow(RangeError)
    expect(() => tremorBands(axes, rateHz, [{ name: 'none', fromHz: 5, toHz: 5 }], rateHz, resolved)).toThrow(
      /band none/,
    )
  })
})

describe('look-alikes', () => {
  it('flags a narrow 5 Hz peak along DV and CC as panting', () => {
    const report = inTremorBand(dog(10, { dv: [[0.3, 5, 0]], cc: [[0.1, 5, 1]] }))
    expect(report).toMatchObject({ distinct: true, lookalike: 'panting' })
  })

  it('flags a narrow sideways peak up to 5 Hz as tail wag', () => {
    const wag = dog(10, { ml: [[0.3, 4.4, 0]] })
    expect(inTremorBand(wag).lookalike).toBe('tail wag')
  })

  it('tells a wag as a swing along any one horizontal line when the heading is unknown', () => {
    const unknown = { headingResolved: false }
    for (const turnDeg of [0, 30, 45, 90, 135]) {
      const ml = 0.3 * Math.cos((turnDeg * Math.PI) / 180)
      const cc = 0.3 * Math.sin((turnDeg * Math.PI) / 180)
      const line = dog(10, { ml: [[ml, 4.4, 0]], cc: [[cc, 4.4, 0]] })
      expect(inTremorBand(line, unknown).lookalike, `${turnDeg}°`).toBe('tail wag')
    }
    const round = dog(10, { ml: [[0.2, 4.4, 0]], cc: [[0.2, 4.4, Math.PI / 2]] })
    expect(inTremorBand(round, unknown).lookalike).toBeNull()
    const upright = dog(10, { ml: [[0.2, 4.4, 0]], dv: [[0.18, 4.4, 0]] })
    expect(inTremorBand(upright, unknown).lookalike).toBeNull()
  })

  it('tells panting by its DV share when the heading is unknown', () => {
    const unknown = { headingResolved: false }
    expect(inTremorBand(dog(10, { dv: [[0.3, 6, 0]] }), unknown).lookalike).toBe('panting')
    expect(inTremorBand(dog(10, { cc: [[0.3, 6, 0]] }), unknown).lookalike).toBeNull()
  })

  it('keeps a body-wide tremor of 4 to 6.5 Hz, its sideways share a quarter and more, from panting', () => {
    const report = inTremorBand(dog(10, { dv: [[0.3, 5.5, 0]], cc: [[0.2, 5.5, 0]], ml: [[0.22, 5.5, 1]] }))
    expect(report).toMatchObject({ distinct: true, lookalike: null })
  })

  it('does not take an 8 Hz or an evenly spread 5 Hz tremor for either', () => {
    expect(inTremorBand(dog(10, { dv: [[0.3, 8, 0]] })).lookalike).toBeNull()
    const even: Sine[] = [[0.2, 5.5, 0]]
    expect(inTremorBand(dog(10, { ml: even, cc: even, dv: even })).lookalike).toBeNull()
  })

  it('does not take the step that ends a hold, within its last 0.2 s, for handling', () => {
    const steady = dog(10, { dv: [[0.1, 8, 0]] })
    const n = steady.dv.length
    for (let i = n - 15; i < n; i++) steady.dv[i] += 2 * Math.sin(i)
    expect(inTremorBand(steady).lookalike).toBeNull()
    const earlier = dog(10, { dv: [[0.1, 8, 0]] })
    for (let i = n - 115; i < n - 100; i++) earlier.dv[i] += 2 * Math.sin(i)
    expect(inTremorBand(earlier).lookalike).toBe('handling')
  })

  it('flags short bursts as handling, and a steady tremor or noise never', () => {
    const axes = dog(10, {})
    for (const start of [210, 480, 777]) {
      for (let i = 0; i < 12; i++) axes.cc[start + i] += 1.5 * Math.sin((Math.PI * i) / 4)
    }
    expect(inTremorBand(axes).lookalike).toBe('handling')
    expect(inTremorBand(dog(10, {})).lookalike).toBeNull()
    expect(inTremorBand(dog(10, { ml: [[0.5, 9, 0]] })).lookalike).toBeNull()
  })
})
