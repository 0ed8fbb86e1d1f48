import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { autoCalibrate, fitSphere, sixPositionCheck } from '../../signal/mount/calibration.ts'
import { STANDARD_GRAVITY_MS2 } from '../../signal/constants.ts'
import { expectSeries, readVectors } from './vectors.ts'
import type { Row3 } from '../../signal/report-types.ts'
import type { UniformTrace } from '../../signal/trace/trace.ts'

interface Fit {
  offset: Row3
  scale: Row3
  iterations: number
  err_start: number
  err_end: number
}
interface Vectors {
  ggir_subset_every110_no_temperature: Fit & { n: number }
  synthetic_exact: Fit & { true_offset: Row3; true_scale: Row3; m_first3: Row3[] }
  six_position: { readings_plus: Row3; readings_minus: Row3; offset: Row3; scale: Row3 }
}

/**
 * By a separate NumPy script of the method, which gives GGIR's own published result on its full data
 * (van Hees et al. 2014) to 4e-15.
 */
const vectors = readVectors<Vectors>('calibration')

const rows = readFileSync(
  new URL('./data/ggir_calibrate/sphere_subset_every110.csv', import.meta.url),
  'utf8',
)
  .trim()
  .split('\n')
  .slice(1)
  .map((line) => line.split(',').map(Number))
const wrist = rows.map(([, x, y, z]): Row3 => [x, y, z])

/** 60 directions spread by the golden angle, as a sensor with the true gain and offset shows them, g. */
function goldenPoints(offset: Row3, scale: Row3): Row3[] {
  return Array.from({ length: 60 }, (_, i) => {
    const z = 1 - (2 * (i + 0.5)) / 60
    const angle = i * Math.PI * (3 - Math.sqrt(5))
    const level = Math.sqrt(1 - z * z)
    const unit = [level * Math.cos(angle), level * Math.sin(angle), z]
    return [0, 1, 2].map((k) => unit[k] / scale[k] - offset[k]) as Row3
  })
}

function expectFit(points: readonly Row3[], expected: Fit, tolerance: number): void {
  const fit = fitSphere(points)!
  expectSeries(fit.offsetG, expected.offset, tolerance, 'offset')
  expectSeries(fit.scale, expected.scale, tolerance, 'scale')
  expect(fit.iterations).toBe(expected.iterations)
  expect(Math.abs(fit.errorBeforeG - expected.err_start)).toBeLessThan(1e-12)
  expect(Math.abs(fit.errorAfterG - expected.err_end)).toBeLessThan(1e-10)
}

/** Still windows of 10 s at 25 Hz, one per mean. */
function still(means: readonly Row3[]): UniformTrace {
  const axis = (k: 0 | 1 | 2) =>
    Float64Array.from(
      { length: 250 * means.length },
      (_, i) => means[Math.floor(i / 250)][k] * STANDARD_GRAVITY_MS2,
    )
  return { rateHz: 25, stretches: [{ startS: 0, acc: { x: axis(0), y: axis(1), z: axis(2) } }] }
}

describe('auto-calibration', () => {
  it('of a person’s wrist sensor comes out as computed elsewhere', () => {
    expect(wrist.length).toBe(vectors.ggir_subset_every110_no_temperature.n)
    // 1e-8: the iteration stops where two residuals agree to 1e-10, and sums in another order.
    expectFit(wrist, vectors.ggir_subset_every110_no_temperature, 1e-8)
  })

  it('of points without noise comes out as computed elsewhere, and close to the truth', () => {
    const { true_offset, true_scale, m_first3, ...expected } = vectors.synthetic_exact
    const points = goldenPoints(true_offset, true_scale)
    points.slice(0, 3).forEach((point, i) => expectSeries(point, m_first3[i], 1e-14, `point ${i}`))
    expectFit(points, expected, 1e-8)
    const fit = fitSphere(points)!
    // The capped weights stop the method 2e-5 to 7e-5 short of the exact solution.
    expect(Math.max(...fit.offsetG.map((value, k) => Math.abs(value - true_offset[k])))).toBeLessThan(7e-5)
    expect(Math.max(...fit.scale.map((value, k) => Math.abs(value - true_scale[k])))).toBeLessThan(7e-5)
  })

  it('is the same from samples as from their means', () => {
    const { calibration, reason } = autoCalibrate(still(wrist))
    expect(reason).toBeNull()
    expectSeries(calibration!.scale, vectors.ggir_subset_every110_no_temperature.scale, 1e-8, 'scale')
    expect(calibration!.windows).toBe(100)
  })
})

it('the six-position check gives zero and gain as computed elsewhere', () => {
  const { readings_plus, readings_minus, offset, scale } = vectors.six_position
  const rest = (k: number, reading: number): Row3 =>
    [0, 1, 2].map((axis) => (axis === k ? reading * STANDARD_GRAVITY_MS2 : 0)) as Row3
  const rests = [0, 1, 2].flatMap((k) => [rest(k, readings_plus[k]), rest(k, readings_minus[k])])
  const { calibration } = sixPositionCheck(rests)
  expectSeries(calibration!.zeroG, offset, 1e-13, 'zero')
  expectSeries(calibration!.gain, scale, 1e-13, 'gain')
})
