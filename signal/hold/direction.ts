import { angleDeg } from '../mount/rotation.ts'

/** Cosines this near to that of the limit are left to the exact angle. */
const MARGIN = 1e-9

/**
 * Tells whether two vectors point within `limitDeg` (0..90) of each other: what `angleDeg(a, b) <= limitDeg`
 * says, without its square roots and arc tangent except where rounding could decide.
 */
export function withinDeg(limitDeg: number): (a: readonly number[], b: readonly number[]) => boolean {
  const limit = Math.cos((limitDeg * Math.PI) / 180)
  return (a, b) => {
    const dot = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    const square = (a[0] * a[0] + a[1] * a[1] + a[2] * a[2]) * (b[0] * b[0] + b[1] * b[1] + b[2] * b[2])
    const cosine = dot / Math.sqrt(square)
    if (cosine > limit + MARGIN) return true
    if (cosine < limit - MARGIN) return false
    return angleDeg(a, b) <= limitDeg
  }
}
