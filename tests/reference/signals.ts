/** Closed-form test signals; scripts/signals.py makes the same ones. */

/** Uniform noise of zero mean and unit variance from a linear congruential generator. */
export function noise(n: number, seed = 12345): Float64Array {
  let state = seed
  return Float64Array.from({ length: n }, () => {
    // The product stays below 2^53, so it is exact.
    state = (1664525 * state + 1013904223) % 4294967296
    return (state / 4294967296 - 0.5) * Math.sqrt(12)
  })
}

/** Amplitude, frequency in Hz, phase in rad. */
export type Sine = readonly [number, number, number]

/** Sum of A·sin(2πft + p), t = i / rateHz. */
export function sines(n: number, rateHz: number, components: readonly Sine[]): Float64Array {
  return Float64Array.from({ length: n }, (_, i) =>
    components.reduce((sum, [a, f, p]) => sum + a * Math.sin((2 * Math.PI * f * i) / rateHz + p), 0),
  )
}

/** Acceleration in dog axes, m/s²: sway, a 5.3 Hz tremor, noise, gravity and an offset. */
export function standingDog(n: number, rateHz: number) {
  const raw = noise(3 * n)
  const add = (clean: Float64Array, from: number, offset: number) =>
    clean.map((value, i) => value + 0.01 * raw[from + i] + offset)
  const ml = sines(n, rateHz, [
    [0.05, 0.47, 0.7],
    [0.02, 1.21, 2.5],
    [0.006, 3.4, 0.1],
    [0.03, 5.3, 1.9],
  ])
  const cc = sines(n, rateHz, [
    [0.08, 0.3, 0.2],
    [0.035, 0.93, 1.1],
    [0.012, 2.7, 2.0],
    [0.06, 5.3, 0.4],
  ])
  const dv = sines(n, rateHz, [
    [0.01, 0.6, 0.4],
    [0.02, 5.3, 2.2],
    [0.015, 13.6, 0.1],
  ])
  return { ml: add(ml, 0, 0.12), cc: add(cc, n, -0.31), dv: add(dv, 2 * n, 9.80665) }
}
