/**
 * Jerk of planar sway, ½·∫((dx/dt)² + (dy/dt)²)dt, in (unit of the samples)²/s: m²/s⁵ for m/s².
 *
 * Derivative by central differences inside and one-sided first order at both ends (`numpy.gradient`);
 * integral by the trapezoid rule over the n − 1 intervals. It grows with the length of the interval
 * and with the bandwidth: compare only equal lengths filtered alike.
 *
 * @param x one axis, shape (n), n >= 3
 * @param y the other axis, shape (n)
 * @throws {RangeError} if n < 3 or rateHz is not > 0
 * @see Mancini et al. 2012, J. NeuroEng. Rehabil. 9:59 (JERK)
 */
export function swayJerk(x: Float64Array, y: Float64Array, rateHz: number): number {
  const n = x.length
  if (y.length !== n)
    throw new TypeError(`swayJerk requires two axes of one length, got ${n} and ${y.length}`)
  if (n < 3) throw new RangeError(`swayJerk requires at least 3 samples, got ${n}`)
  if (!(rateHz > 0)) throw new RangeError(`swayJerk requires rateHz > 0, got ${rateHz}`)
  const firstX = x[1] - x[0]
  const firstY = y[1] - y[0]
  const lastX = x[n - 1] - x[n - 2]
  const lastY = y[n - 1] - y[n - 2]
  let sum = 0.5 * (firstX * firstX + firstY * firstY + lastX * lastX + lastY * lastY)
  for (let i = 1; i < n - 1; i++) {
    const dx = 0.5 * (x[i + 1] - x[i - 1])
    const dy = 0.5 * (y[i + 1] - y[i - 1])
    sum += dx * dx + dy * dy
  }
  return 0.5 * sum * rateHz
}
