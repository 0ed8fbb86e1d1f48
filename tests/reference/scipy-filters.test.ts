import { describe, expect, it } from 'vitest'
import { butterworthHighPass, butterworthLowPass } from '#signal/filter/butterworth'
import { CausalFilter } from '#signal/filter/causal'
import { steadyState } from '#signal/filter/sos'
import { sosfiltfilt } from '#signal/filter/zero-phase'
import { expectSeries, readVectors } from './vectors.ts'

// Source: SciPy (version inside the file), made by scripts/filters.py.
interface Design {
  order: number
  cutoffHz: number
  rateHz: number
  kind: 'low' | 'high'
}
const vectors = readVectors<{
  designs: (Design & { sos: number[][] })[]
  runs: (Design & {
    x: number[]
    sosfilt_zi: number[]
    sosfilt: number[]
    sosfilt_settled: number[]
    sosfiltfilt: number[]
  })[]
  short: { x: number[]; sosfiltfilt: number[] }
}>('scipy_filters')

const design = ({ kind, order, cutoffHz, rateHz }: Design) =>
  (kind === 'low' ? butterworthLowPass : butterworthHighPass)(order, cutoffHz, rateHz)
const title = ({ kind, order, cutoffHz, rateHz }: Design) =>
  `${kind}-pass ${order}, ${cutoffHz} of ${rateHz} Hz`

describe('Butterworth against SciPy', () => {
  it('gives the sections of scipy.signal.butter in its order and pairing within 1e-13', () => {
    expect(vectors.designs.length).toBe(192)
    for (const expected of vectors.designs) {
      const rows = design(expected)
      expect(rows.length).toBe(expected.sos.length)
      rows.forEach((row, i) => expectSeries(row, expected.sos[i], 1e-13, `${title(expected)}, section ${i}`))
    }
  })

  it.each(vectors.runs)(
    'filters as SciPy does within 1e-11: $kind-pass $order, $cutoffHz of $rateHz Hz',
    (run) => {
      const sos = design(run)
      const x = Float64Array.from(run.x)
      expectSeries(steadyState(sos), run.sosfilt_zi, 1e-11, 'sosfilt_zi')
      expectSeries(new CausalFilter(sos).process(x), run.sosfilt, 1e-11, 'sosfilt')
      const settled = new CausalFilter(sos)
      settled.settle(x[0])
      expectSeries(settled.process(x), run.sosfilt_settled, 1e-11, 'sosfilt from the steady state')
      expectSeries(sosfiltfilt(sos, x), run.sosfiltfilt, 1e-11, 'sosfiltfilt')
    },
  )

  it('pads a signal shorter than the default padding by n − 1 samples', () => {
    const filtered = sosfiltfilt(butterworthLowPass(4, 3.5, 100), Float64Array.from(vectors.short.x))
    expectSeries(filtered, vectors.short.sosfiltfilt, 1e-12, 'sosfiltfilt with padlen 4')
  })
})
