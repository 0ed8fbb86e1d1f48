import FFT from 'fft.js'

/**
 * Complex discrete Fourier transform of one power-of-two length (>= 2) by fft.js, in place on data
 * that alternates real and imaginary parts, shape (2n). Inverse without the factor 1/n.
 */
export class PowerOfTwoFft {
  readonly n: number
  readonly #fft: FFT
  readonly #output: Float64Array

  constructor(n: number) {
    this.n = n
    this.#fft = new FFT(n)
    this.#output = new Float64Array(2 * n)
  }

  transformInterleaved(data: Float64Array): void {
    this.#fft.transform(this.#output, data)
    data.set(this.#output)
  }

  inverseInterleaved(data: Float64Array): void {
    // fft.js divides by n, so the conjugate trick replaces its own inverse.
    for (let i = 1; i < data.length; i += 2) data[i] = -data[i]
    this.transformInterleaved(data)
    for (let i = 1; i < data.length; i += 2) data[i] = -data[i]
  }
}
