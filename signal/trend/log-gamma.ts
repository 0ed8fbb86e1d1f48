/** Stirling's series in 1/z²: B₂ₖ / (2k(2k − 1)), k = 1..7. */
const STIRLING = [1 / 12, -1 / 360, 1 / 1260, -1 / 1680, 1 / 1188, -691 / 360360, 1 / 156]

/** From here on seven terms of the series are exact to the last digit. */
const SERIES_FROM = 10

/**
 * Natural logarithm of the gamma function, relative error about 1e-15 (absolute near 1 and 2, where it
 * is 0).
 *
 * Stirling's series, after moving z up to 10 by Γ(z + 1) = z·Γ(z).
 *
 * @throws {RangeError} unless z > 0 and finite
 * @see Abramowitz & Stegun 1964, 6.1.15 and 6.1.41 (from memory)
 */
export function logGamma(z: number): number {
  if (!(z > 0 && z < Infinity)) throw new RangeError(`logGamma requires a finite z > 0, got ${z}`)
  let product = 1
  let x = z
  for (; x < SERIES_FROM; x++) product *= x
  const inverse = 1 / x
  const tail = STIRLING.reduceRight((sum, term) => sum * inverse * inverse + term, 0) * inverse
  return (x - 0.5) * Math.log(x) - x + 0.5 * Math.log(2 * Math.PI) + tail - Math.log(product)
}
