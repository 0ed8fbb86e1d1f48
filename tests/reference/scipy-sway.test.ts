import { describe, it } from 'vitest'
import type { AxisPair, SwaySpectralReport } from '#signal/report-types'
import { cutAxes } from '#signal/sway/dog-axes'
import { fQuantile95 } from '#signal/sway/ellipse'
import { lowPassStretch } from '#signal/sway/low-pass'
import { swaySpectrum } from '#signal/sway/sway-spectrum'
import { swayMeasures } from '#signal/sway/sway'
import type { SwayMeasures } from '#signal/sway/sway'
import { standingDog } from './signals.ts'
import { expectRelative, readVectors } from './vectors.ts'

// Source: NumPy and SciPy (versions inside the file), made by scripts/sway.py.
const vectors = readVectors<{
  cases: {
    rateHz: number
    samples: number
    from: number
    to: number
    sway: SwayMeasures
    spectral: Record<'ml' | 'cc', Record<Exclude<keyof SwaySpectralReport, 'reason'>, number>>
  }[]
  quantiles: { dof: number; f95: number }[]
}>('scipy_sway')

/** Every number of `expected` against the same place of `actual`. */
function expectTree(actual: object, expected: object, tolerance: number, path: string): void {
  for (const [key, value] of Object.entries(expected)) {
    const got = (actual as Record<string, unknown>)[key]
    if (typeof value === 'number') expectRelative(got as number, value, tolerance, `${path}.${key}`)
    else expectTree(got as object, value as object, tolerance, `${path}.${key}`)
  }
}

describe('sway against SciPy', () => {
  it.each(vectors.cases)(
    'measures samples $from..$to at $rateHz Hz as the script does within 1e-9',
    (expected) => {
      const { rateHz, samples, from, to } = expected
      const raw = standingDog(samples, rateHz)
      const sway = swayMeasures(cutAxes(lowPassStretch(raw, rateHz), from, to), rateHz)
      expectTree(sway, expected.sway, 1e-9, 'sway')
      const spectral = swaySpectrum(cutAxes(raw, from, to), rateHz)
      for (const axis of ['ml', 'cc'] as const) {
        for (const [name, value] of Object.entries(expected.spectral[axis])) {
          const pair = spectral[name as keyof SwaySpectralReport] as AxisPair
          expectRelative(pair[axis], value, 1e-9, `${name} ${axis}`)
        }
      }
    },
  )

  it('inverts the F distribution with 2 numerator degrees of freedom within 1e-10 of SciPy', () => {
    // 1e-10: SciPy inverts numerically; the closed form is the sharper of the two.
    for (const { dof, f95 } of vectors.quantiles) expectRelative(fQuantile95(dof), f95, 1e-10, `F(2, ${dof})`)
  })
})
