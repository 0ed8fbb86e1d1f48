import { describe, expect, it } from 'vitest'
import { bandPower } from '#signal/spectrum/band-power'
import { realFft } from '#signal/spectrum/fft'
import { spectralMoments } from '#signal/spectrum/moments'
import type { SpectralMoments } from '#signal/spectrum/moments'
import { welch } from '#signal/spectrum/welch'
import { noise, sines } from './signals.ts'
import { expectRelative, expectSeries, readVectors } from './vectors.ts'

// Source: NumPy and SciPy (versions inside the file), made by scripts/spectra.py.
const vectors = readVectors<{
  transforms: { x: number[]; re: number[]; im: number[] }[]
  welch: {
    rateHz: number
    samples: number
    densities: {
      segmentSamples: number
      overlapSamples: number | null
      frequencyHz: number[]
      density: number[]
      bands: { fromHz: number; toHz: number; power: number }[]
      moments: SpectralMoments
    }[]
  }
}>('scipy_spectra')

describe('discrete Fourier transform against NumPy', () => {
  it.each(vectors.transforms.map((t) => [t.x.length, t] as const))(
    'equals rfft of %i samples within 1e-13 of the largest bin',
    (n, { x, re, im }) => {
      const fft = realFft(n)
      fft.transform(Float64Array.from(x))
      const got = Float64Array.of(...fft.re.subarray(0, fft.bins), ...fft.im.subarray(0, fft.bins))
      expectSeries(got, [...re, ...im], 1e-13, `rfft of ${n}`)
    },
  )
})

describe('Welch spectra against SciPy', () => {
  const { rateHz, samples, densities } = vectors.welch
  const clean = sines(samples, rateHz, [
    [0.5, 0.7, 0.3],
    [0.2, 6.13, 1.0],
    [0.05, 14.6, 0.2],
  ])
  const raw = noise(samples)
  const x = clean.map((value, i) => value + 0.1 * raw[i] + 9.8)

  it.each(densities)(
    'equals scipy.signal.welch: segments of $segmentSamples, overlap $overlapSamples',
    (expected) => {
      const { segmentSamples, overlapSamples } = expected
      const psd = welch(x, rateHz, { segmentSamples, overlapSamples: overlapSamples ?? undefined })
      expectSeries(psd.frequencyHz, expected.frequencyHz, 1e-14, 'frequencies')
      const overlap = overlapSamples ?? Math.floor(segmentSamples / 2)
      expect(psd.segments).toBe(Math.floor((samples - overlap) / (segmentSamples - overlap)))
      expected.density.forEach((value, k) => {
        // At 0 Hz only the rounding of the removed mean (9.8) is left.
        if (k > 0) expectRelative(psd.density[k], value, 1e-9, `density at bin ${k}`)
      })
      for (const { fromHz, toHz, power } of expected.bands) {
        expectRelative(bandPower(psd, fromHz, toHz), power, 1e-9, `power ${fromHz}–${toHz} Hz`)
      }
      const moments = spectralMoments(psd)!
      for (const [name, value] of Object.entries(expected.moments)) {
        expectRelative(moments[name as keyof SpectralMoments], value, 1e-9, name)
      }
    },
  )
})
