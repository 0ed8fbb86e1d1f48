import type { DogAxes } from '../mount/rotation.ts'

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
