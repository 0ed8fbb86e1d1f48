/**
 * To what browsers round acceleration for privacy, m/s²: "no more than 0.1 m/s²" (Device Orientation and
 * Motion, W3C; measured so in Chromium).
 */
export const BROWSER_STEP_MS2 = 0.1
/** Finer steps than this, m/s², limit nothing: the noise of the sensor is larger. */
const LEAST_STEP_MS2 = 1e-3
/** How far a value may lie from a multiple of the step, m/s²: rounding of the arithmetic. */
const TOLERANCE_MS2 = 1e-5
/** With fewer values a chance fit cannot be ruled out. */
const MIN_VALUES = 30

/**
 * Smallest step of acceleration readings in m/s², or null when they lie on no lattice: then rounding is
 * not what limits them.
 *
 * Values that are all multiples of 0.1 were rounded by the browser: a still phone may show one value per
 * axis only, so their differences could not tell. Else the step is the smallest difference between values
 * of one axis, if every value lies on multiples of it from the first.
 *
 * @param axes readings of each axis, m/s²
 */
export function valueStep(axes: readonly Float64Array[]): number | null {
  const count = axes.reduce((sum, axis) => sum + axis.length, 0)
  if (count < MIN_VALUES) return null
  if (axes.every((axis) => liesOn(axis, 0, BROWSER_STEP_MS2))) return BROWSER_STEP_MS2
  const step = Math.min(...axes.map(smallestDifference))
  if (!(step >= LEAST_STEP_MS2 && Number.isFinite(step))) return null
  return axes.every((axis) => liesOn(axis, axis[0], step)) ? step : null
}

function liesOn(axis: Float64Array, origin: number, step: number): boolean {
  return axis.every((value) => {
    const distance = (value - origin) / step
    return Math.abs(distance - Math.round(distance)) * step <= TOLERANCE_MS2
  })
}

/** Between neighbours in size that are not the same; Infinity when all are. */
function smallestDifference(axis: Float64Array): number {
  const sorted = axis.toSorted()
  let least = Infinity
  for (let i = 1; i < sorted.length; i++) {
    const difference = sorted[i] - sorted[i - 1]
    if (difference > TOLERANCE_MS2 && difference < least) least = difference
  }
  return least
}
