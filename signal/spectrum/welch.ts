import { realFft } from './fft.ts'
import type { RealFft } from './fft.ts'
import { hannWindow } from './hann.ts'

/** One-sided power spectral density. */
export interface Psd {
  /** Bin frequencies k·rate/segment from 0, shape (bins), ascending. */
  readonly frequencyHz: Float64Array
  /** Density in (unit of the signal)² per Hz, shape (bins). */
  readonly density: Float64Array
  /** Segments averaged. */
  readonly segments: number
  readonly rateHz: number
}

export interface WelchOptions {
  readonly segmentSamples: number
  /** Samples shared by neighbouring segments; half a segment, rounded down, unless said. */
  readonly overlapSamples?: number
}

/**
 * Power spectral density of `x` by averaged periodograms: each segment loses its mean, is weighted
 * with a periodic Hann window, and |X|² is scaled so that Σ density·Δf is the mean square of the
 * windowed signal. One-sided: every bin but 0 Hz and (even segments) Nyquist counts twice. Samples
 * after the last whole segment are not used.
 *
 * Equal within rounding to SciPy's `welch(x, rateHz, window='hann', nperseg=segmentSamples,
 * noverlap=overlapSamples, detrend='constant', scaling='density')`.
 *
 * @param x samples at a uniform rate, no gaps, shape (n); not modified
 * @throws {RangeError} if a segment has fewer than 3 samples or more than x, or the overlap is not below a segment
 * @see Welch 1967, IEEE Trans. Audio Electroacoust. 15:70–73
 * @example welch(sine of amplitude A at 5 Hz, 100, { segmentSamples: 200 }) // Σ density·0.5 Hz ≈ A²/2
 */
export function welch(x: Float64Array, rateHz: number, options: WelchOptions): Psd {
  const n = options.segmentSamples
  const overlap = options.overlapSamples ?? Math.floor(n / 2)
  if (!(Number.isFinite(rateHz) && rateHz > 0))
    throw new RangeError(`welch requires rateHz > 0, got ${rateHz}`)
  if (!(Number.isInteger(n) && n >= 3 && n <= x.length)) {
    throw new RangeError(`welch requires whole segmentSamples in 3..${x.length} (samples given), got ${n}`)
  }
  if (!(Number.isInteger(overlap) && overlap >= 0 && overlap < n)) {
    throw new RangeError(`welch requires whole overlapSamples in 0..${n - 1}, got ${overlap}`)
  }
  const { fft, window, windowPower, frequencyHz } = segmentPlan(n, rateHz)
  const { re, im } = fft
  const density = new Float64Array(fft.bins)
  const step = n - overlap
  const segments = Math.floor((x.length - overlap) / step)
  for (let s = 0; s < segments; s++) {
    fft.transformWindowed(x, s * step, meanOf(x, s * step, n), window)
    for (let k = 0; k < density.length; k++) density[k] += re[k] * re[k] + im[k] * im[k]
  }

  const scale = 1 / (rateHz * windowPower * segments)
  const lastDoubled = n % 2 === 0 ? density.length - 2 : density.length - 1
  for (let k = 0; k < density.length; k++) density[k] *= k >= 1 && k <= lastDoubled ? 2 * scale : scale
  return { frequencyHz, density, segments, rateHz }
}

/** What every segment of one length shares. The scratch memory makes it not re-entrant. */
interface SegmentPlan {
  readonly fft: RealFft
  readonly window: Float64Array
  /** Σ window². */
  readonly windowPower: number
  readonly rateHz: number
  /** Shared by all spectra of this length and rate. */
  readonly frequencyHz: Float64Array
}

/** Kept like the transforms: a live view asks for the same length several times a second. */
const KEPT_PLANS = 64
const plans = new Map<number, SegmentPlan>()

function segmentPlan(n: number, rateHz: number): SegmentPlan {
  const known = plans.get(n)
  if (known?.rateHz === rateHz) return known
  const window = hannWindow(n)
  const windowPower = window.reduce((sum, w) => sum + w * w, 0)
  const fft = realFft(n)
  const frequencyHz = Float64Array.from({ length: fft.bins }, (_, k) => (k * rateHz) / n)
  const plan = { fft, window, windowPower, rateHz, frequencyHz }
  if (plans.size >= KEPT_PLANS) plans.delete(plans.keys().next().value!)
  plans.set(n, plan)
  return plan
}

function meanOf(x: Float64Array, from: number, n: number): number {
  let sum = 0
  for (let i = from; i < from + n; i++) sum += x[i]
  return sum / n
}

/**
 * Sum of densities on the same bins: over three axes it is the power whatever way the sensor is turned.
 * @throws {RangeError} if the list is empty or the bins differ
 */
export function sumPsd(psds: readonly Psd[]): Psd {
  if (psds.length === 0) throw new RangeError('sumPsd requires at least one spectrum')
  const [first] = psds
  const density = new Float64Array(first.density.length)
  for (const psd of psds) {
    if (
      psd.density.length !== density.length ||
      psd.rateHz !== first.rateHz ||
      psd.segments !== first.segments
    ) {
      throw new RangeError('sumPsd requires spectra with the same bins, rate and number of segments')
    }
    for (let k = 0; k < density.length; k++) density[k] += psd.density[k]
  }
  return { ...first, density }
}
