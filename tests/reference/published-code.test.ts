import { describe, it } from 'vitest'
import { predictionEllipse } from '#signal/sway/ellipse'
import { swayMeasures } from '#signal/sway/sway'
import { sines } from './signals.ts'
import type { Sine } from './signals.ts'
import { expectRelative, readVectors } from './vectors.ts'

// Source: the published code of Quijoux et al. 2021 (Physiol. Rep. 9:e15067; MIT, commit c66a0e4), run
// unmodified on the sines of sway_synthetic.json. Its spectra are detrended linearly, ours by the mean,
// so only the measures of time and the ellipse are compared.
const { signal } = readVectors<{
  signal: { fs: number; N: number; components: { ap: Sine[]; ml: Sine[] } }
}>('sway_synthetic')
const { results } = readVectors<{ results: { nofilter_noresample: Record<string, number> } }>(
  'sway_synthetic_quijoux_code',
)
const published = results.nofilter_noresample

describe('published posturography code on the same signal', () => {
  const { fs, N, components } = signal
  const cc = sines(N, fs, components.ap)
  const ml = sines(N, fs, components.ml)
  const measures = swayMeasures({ ml, cc, dv: new Float64Array(N) }, fs)
  const ellipse = predictionEllipse(ml, cc)

  // 1e-9: two languages and libraries; the sums differ in the last digits only.
  it.each<[string, number, number]>([
    ['RMS, ML', measures.rms.ml, published.rms_ML],
    ['RMS, front to back', measures.rms.cc, published.rms_AP],
    ['RMS, horizontal', measures.rms.horizontal, published.rms_Radius],
    ['range, ML', measures.range.ml, published.range_ML],
    ['range, front to back', measures.range.cc, published.range_AP],
    ['path rate (their velocity: path · rate ÷ N)', measures.pathRate, published.mean_velocity_ML_AND_AP],
    // Their covariance divides by N, ours by N − 1: exactly that factor lies between the areas.
    ['ellipse area', ellipse.area * ((N - 1) / N), published.confidence_ellipse_area_ML_AND_AP],
  ])('gives the same %s within 1e-9', (name, ours, theirs) => expectRelative(ours, theirs, 1e-9, name))
})
