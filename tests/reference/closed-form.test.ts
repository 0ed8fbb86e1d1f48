import { describe, expect, it } from 'vitest'
import { butterworthHighPass, butterworthLowPass } from '#signal/filter/butterworth'
import { CausalFilter } from '#signal/filter/causal'
import { sosfiltfilt } from '#signal/filter/zero-phase'
import { bandPower } from '#signal/spectrum/band-power'
import { spectralPeak } from '#signal/spectrum/peak'
import { sumPsd, welch } from '#signal/spectrum/welch'
import { predictionEllipse } from '#signal/sway/ellipse'
import { swayJerk } from '#signal/sway/jerk'
import { deviationRms, planarPath } from '#signal/sway/sway'
import { noise, sines } from './signals.ts'
import type { Sine } from './signals.ts'
import { expectRelative, expectSeries, readVectors } from './vectors.ts'

// Source: closed-form signals through SciPy 1.x scripts written apart from this project's
// (vectors/README.md); a second opinion beside our own scripts.

describe('filters of the closed-form set', () => {
  interface DesignRow {
    fs: number
    fc: number | number[]
    N_argument: number
    type: string
    sos: number[][]
  }
  const vectors = readVectors<{
    digital_designs_scipy_butter_bilinear_prewarped: DesignRow[]
    lfilter_filtfilt_small: Record<'x' | 'lfilter' | 'lfilter_zi' | 'sosfiltfilt', number[]>
    winter_fs60_fc6_2nd_order: Record<'a0' | 'a1' | 'a2' | 'b1' | 'b2', number>
  }>('filters_windows')

  it('gives every low- and high-pass design', () => {
    const designs = vectors.digital_designs_scipy_butter_bilinear_prewarped.filter((d) => d.type !== 'band')
    expect(designs.length).toBe(12)
    for (const { fs, fc, N_argument, type, sos } of designs) {
      const design = type === 'low' ? butterworthLowPass : butterworthHighPass
      design(N_argument, fc as number, fs).forEach((row, i) =>
        expectSeries(row, sos[i], 1e-13, `${fc} of ${fs}`),
      )
    }
  })

  it('filters the small pulse forward and both ways', () => {
    const { x, lfilter, sosfiltfilt: both } = vectors.lfilter_filtfilt_small
    const sos = butterworthLowPass(2, 5, 50)
    expectSeries(new CausalFilter(sos).process(Float64Array.from(x)), lfilter, 1e-13, 'lfilter')
    expectSeries(sosfiltfilt(sos, Float64Array.from(x)), both, 1e-13, 'sosfiltfilt')
  })

  it("gives the coefficients of Winter's 6 Hz at 60 Hz example (textbook values from memory)", () => {
    const [row] = butterworthLowPass(2, 6, 60)
    const { a0, a1, a2, b1, b2 } = vectors.winter_fs60_fc6_2nd_order
    expectSeries(row, [a0, a1, a2, 1, -b1, -b2], 1e-13, 'coefficients')
    const printed = [0.06746, 0.13491, 0.06746, 1, -1.14298, 0.4128]
    row.forEach((value, i) => expect(Math.abs(value - printed[i])).toBeLessThan(5e-6))
  })
})

describe('sway of the closed-form set', () => {
  type TimeDomain = Record<string, number>
  interface Result {
    time: TimeDomain
    ellipse: Record<string, number> & { cov_ddof1: number[] }
  }
  const vectors = readVectors<{
    signal: { fs: number; N: number; components: Record<'ap' | 'ml', Sine[]> }
    results: Record<'raw', Result>
  }>('sway_synthetic')
  const { fs, N, components } = vectors.signal
  const x = sines(N, fs, components.ap)
  const y = sines(N, fs, components.ml)
  const { time, ellipse } = vectors.results.raw

  it('measures RMS, path and jerk (gradient and trapezoid) within 1e-12', () => {
    expectRelative(deviationRms(x), time.rms_x, 1e-12, 'RMS x')
    expectRelative(deviationRms(y), time.rms_y, 1e-12, 'RMS y')
    expectRelative(planarPath(x, y), time.path_2d, 1e-12, 'path')
    expectRelative(swayJerk(x, y, fs), time.jerk_isway_gradient_trapz, 1e-12, 'jerk')
  })

  it('draws the exact-F prediction ellipse with ddof 1, not one of the other conventions', () => {
    const got = predictionEllipse(x, y)
    expectRelative(got.area, ellipse.prediction95_exactF_ddof1, 1e-11, 'area')
    expectRelative(got.angleDeg, ellipse.major_axis_angle_deg_from_first_axis, 1e-11, 'angle')
    const others = ['prediction95_chi2_ddof1', 'prieto1996_2piF3_ddof0', 'quijoux2021_ddof0']
    for (const name of others) expect(Math.abs(got.area / ellipse[name] - 1), name).toBeGreaterThan(1e-4)
  })
})

describe('tremor of the closed-form set', () => {
  interface Peak {
    bin: number
    P_peak: number
    log_parabolic: number
    half_power_width: number
  }
  interface ToneWelch {
    band3_12: { trapz: number }
    peak: Peak
  }
  const vectors = readVectors<{
    tones: Record<
      'on_bin' | 'off_bin' | 'ot',
      { A: number; f: number; phase: number; welch: Record<string, ToneWelch> }
    >
    composite: {
      results: Record<string, { '4_12': Record<string, { trapz: number }>; peak_sum3_2_25: Peak }>
    }
  }>('tremor')
  const rateHz = 100
  const n = 3000
  const settings = [
    ['hann2s_50_const', 200],
    ['hann4s_50_const', 400],
    ['hann256_50_const', 256],
  ] as const

  it.each(settings)('finds power and peak of single tones with the setting %s', (name, segmentSamples) => {
    for (const { A, f, phase, welch: expected } of Object.values(vectors.tones)) {
      const psd = welch(sines(n, rateHz, [[A, f, phase]]), rateHz, { segmentSamples })
      const peak = spectralPeak(psd, 2, 25)!
      expectRelative(peak.peakHz, expected[name].peak.log_parabolic, 1e-10, `peak of ${f} Hz`)
      expectRelative(peak.density, expected[name].peak.P_peak, 1e-10, `density of ${f} Hz`)
      expectRelative(peak.halfPowerWidthHz, expected[name].peak.half_power_width, 1e-9, `width of ${f} Hz`)
    }
  })

  const raw = noise(3 * n)
  const modulation = sines(n, rateHz, [[0.5, 0.2, 0]])
  const tremorX = sines(n, rateHz, [[0.06, 5.3, 0.4]])
  const slowX = sines(n, rateHz, [
    [0.08, 0.3, 0.2],
    [0.035, 0.93, 1.1],
  ])
  const ax = slowX.map((value, i) => value + (1 + modulation[i]) * tremorX[i] + 0.01 * raw[i])
  const ay = sines(n, rateHz, [
    [0.05, 0.47, 0.7],
    [0.03, 5.3, 1.9],
    [0.015, 13.6, 0.1],
  ]).map((value, i) => value + 0.01 * raw[n + i])
  const az = sines(n, rateHz, [[0.02, 5.3, 2.2]]).map((value, i) => value + 9.80665 + 0.01 * raw[2 * n + i])

  it.each(settings)('sums three axes to the same band power and peak, setting %s', (name, segmentSamples) => {
    const expected = vectors.composite.results[name]
    const psd = sumPsd([ax, ay, az].map((axis) => welch(axis, rateHz, { segmentSamples })))
    expectRelative(spectralPeak(psd, 2, 25)!.peakHz, expected.peak_sum3_2_25.log_parabolic, 1e-10, 'peak')
    const width = spectralPeak(psd, 2, 25)!.halfPowerWidthHz
    expectRelative(width, expected.peak_sum3_2_25.half_power_width, 1e-10, 'width')
    // Their trapezoid runs over whole bins: with 256-sample segments no bin lies on 4 or 12 Hz.
    if (segmentSamples === 256) return
    expectRelative(bandPower(psd, 4, 12), expected['4_12'].sum3.trapz, 1e-10, 'power 4–12 Hz')
  })
})
