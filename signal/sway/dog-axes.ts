/**
 * Acceleration along the dog, each shape (n), m/s²: `ml` towards its left, `cc` towards its head,
 * `dv` towards its back. While the heading of the mount is unresolved `ml` and `cc` are any two
 * horizontal axes at right angles.
 */
export interface DogAxes {
  readonly ml: Float64Array
  readonly cc: Float64Array
  readonly dv: Float64Array
}

/** Number of samples; a TypeError when the axes differ. */
export function sampleCount(axes: DogAxes): number {
  const n = axes.ml.length
  if (axes.cc.length !== n || axes.dv.length !== n) {
    throw new TypeError(`axes require one length, got ml ${n}, cc ${axes.cc.length}, dv ${axes.dv.length}`)
  }
  return n
}

/** The samples [from, to) of all axes, as views on the same memory. */
export function cutAxes(axes: DogAxes, from: number, to: number): DogAxes {
  return { ml: axes.ml.subarray(from, to), cc: axes.cc.subarray(from, to), dv: axes.dv.subarray(from, to) }
}
