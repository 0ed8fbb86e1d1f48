/**
 * Periodic Hann window, ½ − ½·cos(2πk/n), shape (n): noise bandwidth 1.5 bins.
 * @see Heinzel, Rüdiger & Schilling 2002, appendix C (from memory)
 */
export function hannWindow(n: number): Float64Array {
  if (!(Number.isInteger(n) && n >= 1)) throw new RangeError(`hannWindow requires n >= 1, got ${n}`)
  return Float64Array.from({ length: n }, (_, k) => 0.5 - 0.5 * Math.cos((2 * Math.PI * k) / n))
}
