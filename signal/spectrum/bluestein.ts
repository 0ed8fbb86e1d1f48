import { PowerOfTwoFft } from './power-of-two-fft.ts'

/**
 * Complex discrete Fourier transform of one length, any n >= 1, in place: the chirp transform writes
 * it as a convolution, done by fft.js at a power of two >= 2n − 1. O(n log n), rounding error about
 * 1e-15·√n. For whole short holds, whose lengths have large prime factors.
 *
 * @see Bluestein 1970, IEEE Trans. Audio Electroacoust. 18:451–455 (from memory)
 */
export class BluesteinFft {
  readonly n: number
  readonly #fft: PowerOfTwoFft
  /** exp(−iπ·k²/n), alternating real and imaginary, shape (2n). */
  readonly #chirp: Float64Array
  /** Transform of the conjugate chirp over ±(n − 1), already divided by the convolution length. */
  readonly #kernel: Float64Array
  readonly #work: Float64Array

  constructor(n: number) {
    if (!(Number.isInteger(n) && n >= 1)) throw new RangeError(`BluesteinFft requires n >= 1, got ${n}`)
    this.n = n
    let length = 2
    while (length < 2 * n - 1) length *= 2
    this.#fft = new PowerOfTwoFft(length)
    this.#chirp = new Float64Array(2 * n)
    this.#kernel = new Float64Array(2 * length)
    this.#work = new Float64Array(2 * length)
    for (let k = 0; k < n; k++) {
      // k² modulo the period 2n keeps the angle small, so that no digits are lost.
      const angle = (Math.PI * ((k * k) % (2 * n))) / n
      const re = Math.cos(angle)
      const im = Math.sin(angle)
      this.#chirp[2 * k] = re
      this.#chirp[2 * k + 1] = -im
      for (const at of k === 0 ? [0] : [k, length - k]) {
        this.#kernel[2 * at] = re / length
        this.#kernel[2 * at + 1] = im / length
      }
    }
    this.#fft.transformInterleaved(this.#kernel)
  }

  transform(re: Float64Array, im: Float64Array): void {
    const work = this.#work
    const chirp = this.#chirp
    work.fill(0, 2 * this.n)
    for (let k = 0; k < this.n; k++) {
      const cr = chirp[2 * k]
      const ci = chirp[2 * k + 1]
      work[2 * k] = re[k] * cr - im[k] * ci
      work[2 * k + 1] = re[k] * ci + im[k] * cr
    }
    this.#fft.transformInterleaved(work)
    multiplyInPlace(work, this.#kernel)
    this.#fft.inverseInterleaved(work)
    for (let k = 0; k < this.n; k++) {
      const cr = chirp[2 * k]
      const ci = chirp[2 * k + 1]
      re[k] = work[2 * k] * cr - work[2 * k + 1] * ci
      im[k] = work[2 * k] * ci + work[2 * k + 1] * cr
    }
  }
}

function multiplyInPlace(a: Float64Array, b: Float64Array): void {
  for (let i = 0; i < a.length; i += 2) {
    const re = a[i] * b[i] - a[i + 1] * b[i + 1]
    a[i + 1] = a[i] * b[i + 1] + a[i + 1] * b[i]
    a[i] = re
  }
}
