/**
 * Generator of numbers in [0, 1), the same sequence for the same seed: a 32-bit xorshift, enough for
 * resampling and nothing else.
 * @see Marsaglia 2003, J. Stat. Softw. 8(14)
 */
export function seededUniform(seed: number): () => number {
  let state = seed | 0 || 1
  return () => {
    state ^= state << 13
    state ^= state >>> 17
    state ^= state << 5
    return (state >>> 0) / 4_294_967_296
  }
}
