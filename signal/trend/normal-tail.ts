/** Below this the series keeps 15 digits, above it the continued fraction converges fast. */
const SERIES_TO = 2

/** Past this the tail is smaller than any double. */
const UNDERFLOW_Z = 39

/**
 * P(Z > z) for a standard normal Z, relative error about 1e-14.
 *
 * Near the middle ½ − φ(z)·(z + z³/3 + z⁵/(3·5) + …), a sum of like signs; further out Laplace's
 * continued fraction.
 *
 * @throws {RangeError} if z is not a number
 * @see Abramowitz & Stegun 1964, 26.2.11 and 26.2.14 (from memory)
 */
export function normalTail(z: number): number {
  if (Number.isNaN(z)) throw new RangeError('normalTail requires a number, got NaN')
  if (z < 0) return 1 - normalTail(-z)
  if (z > UNDERFLOW_Z) return 0
  const density = Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI)
  return z < SERIES_TO ? 0.5 - density * oddSeries(z) : density * laplaceFraction(z)
}

function oddSeries(z: number): number {
  let term = z
  let sum = z
  for (let odd = 3; term > sum * 1e-17; odd += 2) {
    term *= (z * z) / odd
    sum += term
  }
  return sum
}

/** 1/(z + 1/(z + 2/(z + 3/…))), from the inside; 160 levels are exact from z = 2 on. */
function laplaceFraction(z: number): number {
  let value = z
  for (let level = 160; level >= 1; level--) value = z + level / value
  return 1 / value
}
