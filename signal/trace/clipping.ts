import { STANDARD_GRAVITY_MS2 } from '../constants.ts'
import { median } from './median.ts'
import type { Vector3Series } from './trace.ts'

/** A plateau is a run of at least this many equal samples: two in a row happen by chance at a turning point. */
const MIN_RUN = 3
/** No axis at rest reads more than 1 g, so a plateau below this is a posture, not the end of the range. */
const MIN_CLIP_MS2 = 1.1 * STANDARD_GRAVITY_MS2
/** A plateau lies at least this many quantisation steps from the median; quiet data spans fewer. */
const MIN_STEPS_AWAY = 8
/** A cut-off signal stands at its limit far more often than one step inside it; a rounded peak does not (a rounded sine: at most 2.4 times). */
const CROWDING = 3

/**
 * Number of samples at which an axis stands at the end of its range.
 *
 * For each axis and each of its two extremes: samples in runs of 3 or more that hold the extreme
 * exactly, provided that extreme exceeds 1.1 g, lies 8 quantisation steps from the median, and is
 * held at least 3 times as often as the values within 1.5 steps of it. Coarsely rounded quiet data
 * fails all three.
 *
 * @param stepMs2 quantisation step, m/s², or 0 when there is none to see
 */
export function clippedSamples(acc: Vector3Series, stepMs2: number): number {
  const n = acc.x.length
  const clipped = new Uint8Array(n)
  for (const axis of [acc.x, acc.y, acc.z]) {
    if (n === 0) continue
    const middle = median(axis)
    let low = Infinity
    let high = -Infinity
    for (const value of axis) {
      if (value < low) low = value
      if (value > high) high = value
    }
    for (const extreme of [low, high]) {
      const isFar = Math.abs(extreme - middle) >= MIN_STEPS_AWAY * stepMs2
      if (isFar && Math.abs(extreme) >= MIN_CLIP_MS2) markPlateaus(axis, extreme, stepMs2, clipped)
    }
  }
  return clipped.reduce((sum, flag) => sum + flag, 0)
}

function markPlateaus(axis: Float64Array, extreme: number, stepMs2: number, clipped: Uint8Array): void {
  const runs: [number, number][] = []
  let held = 0
  let near = 0
  for (let i = 0; i < axis.length;) {
    if (axis[i] !== extreme) {
      if (Math.abs(axis[i] - extreme) <= 1.5 * stepMs2) near++
      i++
      continue
    }
    const from = i
    while (i < axis.length && axis[i] === extreme) i++
    if (i - from >= MIN_RUN) {
      runs.push([from, i])
      held += i - from
    }
  }
  if (held < CROWDING * near) return
  for (const [from, to] of runs) clipped.fill(1, from, to)
}
