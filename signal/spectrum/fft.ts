import { BluesteinFft } from './bluestein.ts'
import { PowerOfTwoFft } from './power-of-two-fft.ts'
import { SmoothFft, isSmooth } from './smooth-fft.ts'

/** A discrete Fourier transform of one length, Xₖ = Σ xⱼ·exp(−2πi·jk/n), in place. */
interface ComplexFft {
  readonly n: number
  transform(re: Float64Array, im: Float64Array): void
}

/**
 * Spectrum of a real signal of one length, any n >= 1: bins 0..⌊n/2⌋ of Xₖ = Σ xⱼ·exp(−2πi·jk/n),
 * unscaled, as NumPy's `rfft`; equal to it within 1e-12 of the largest bin. O(n log n).
 * Make one with `realFft`, which keeps the plans. A plan holds scratch memory: not re-entrant.
 */
export class RealFft {
  readonly n: number
  readonly bins: number
  /** Result of the last `transform`, shape (bins) at the front; overwritten by the next. */
  readonly re: Float64Array
  readonly im: Float64Array
  readonly #complex: ComplexFft
  readonly #cos: Float64Array
  readonly #sin: Float64Array

  constructor(n: number) {
    if (!(Number.isInteger(n) && n >= 1)) throw new RangeError(`realFft requires a length >= 1, got ${n}`)
    const even = n % 2 === 0
    const half = n / 2
    this.n = n
    this.bins = Math.floor(n / 2) + 1
    this.#complex = complexFft(even ? half : n)
    this.re = new Float64Array(even ? half + 1 : n)
    this.im = new Float64Array(even ? half + 1 : n)
    this.#cos = Float64Array.from({ length: even ? this.bins : 0 }, (_, k) => Math.cos((2 * Math.PI * k) / n))
    this.#sin = Float64Array.from({ length: even ? this.bins : 0 }, (_, k) => Math.sin((2 * Math.PI * k) / n))
  }

  /** Leaves the spectrum of `x`, shape (n), in `re` and `im`; `x` is not modified. */
  transform(x: Float64Array): void {
    if (x.length !== this.n) {
      throw new TypeError(`RealFft of length ${this.n} requires as many samples, got ${x.length}`)
    }
    const { re, im } = this
    if (this.n % 2 === 0) {
      const half = this.n / 2
      for (let j = 0; j < half; j++) {
        re[j] = x[2 * j]
        im[j] = x[2 * j + 1]
      }
    } else {
      re.set(x)
      im.fill(0)
    }
    this.#transformLoaded()
  }

  /** The same of (x[from + i] − level) · window[i], i = 0..n−1, without writing that down first. */
  transformWindowed(x: Float64Array, from: number, level: number, window: Float64Array): void {
    const { re, im, n } = this
    if (window.length !== n || !(from >= 0 && from + n <= x.length)) {
      throw new RangeError(`RealFft of length ${n} requires ${n} weights and samples from ${from} on`)
    }
    if (n % 2 === 0) {
      const half = n / 2
      for (let j = 0; j < half; j++) {
        re[j] = (x[from + 2 * j] - level) * window[2 * j]
        im[j] = (x[from + 2 * j + 1] - level) * window[2 * j + 1]
      }
    } else {
      for (let i = 0; i < n; i++) re[i] = (x[from + i] - level) * window[i]
      im.fill(0)
    }
    this.#transformLoaded()
  }

  /** Even lengths: even samples as real part, odd samples as imaginary part: half the length does the work. */
  #transformLoaded(): void {
    const { re, im } = this
    if (this.n % 2 === 1) {
      this.#complex.transform(re, im)
      return
    }
    const half = this.n / 2
    this.#complex.transform(re, im)
    re[half] = re[0]
    im[half] = im[0]
    for (let k = 0; 2 * k <= half; k++) {
      const m = half - k
      const evenRe = 0.5 * (re[k] + re[m])
      const evenIm = 0.5 * (im[k] - im[m])
      const oddRe = 0.5 * (im[k] + im[m])
      const oddIm = 0.5 * (re[m] - re[k])
      const c = this.#cos[k]
      const s = this.#sin[k]
      const turnRe = oddRe * c + oddIm * s
      const turnIm = oddIm * c - oddRe * s
      re[k] = evenRe + turnRe
      im[k] = evenIm + turnIm
      re[m] = evenRe - turnRe
      im[m] = turnIm - evenIm
    }
  }
}

const KEPT_PLANS = 64
const plans = new Map<number, RealFft>()

/** The plan for length n; the last 64 lengths made are kept, as building one costs several transforms. */
export function realFft(n: number): RealFft {
  const known = plans.get(n)
  if (known) return known
  const plan = new RealFft(n)
  if (plans.size >= KEPT_PLANS) plans.delete(plans.keys().next().value!)
  plans.set(n, plan)
  return plan
}

function complexFft(n: number): ComplexFft {
  if (n >= 2 && Number.isInteger(Math.log2(n))) return new SplitPowerOfTwoFft(n)
  return isSmooth(n) ? new SmoothFft(n) : new BluesteinFft(n)
}

/** fft.js wants real and imaginary parts alternating; the rest of this folder keeps them apart. */
class SplitPowerOfTwoFft implements ComplexFft {
  readonly n: number
  readonly #fft: PowerOfTwoFft
  readonly #data: Float64Array

  constructor(n: number) {
    this.n = n
    this.#fft = new PowerOfTwoFft(n)
    this.#data = new Float64Array(2 * n)
  }

  transform(re: Float64Array, im: Float64Array): void {
    const data = this.#data
    for (let k = 0; k < this.n; k++) {
      data[2 * k] = re[k]
      data[2 * k + 1] = im[k]
    }
    this.#fft.transformInterleaved(data)
    for (let k = 0; k < this.n; k++) {
      re[k] = data[2 * k]
      im[k] = data[2 * k + 1]
    }
  }
}
