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
  if (n === 0) return 0
  const clipped = new Uint8Array(n)
  let hasClipped = false
  for (const axis of [acc.x, acc.y, acc.z]) {
    // The median is asked for last: few recordings hold a plateau at all.
    let middle: number | null = null
    for (const extreme of extremesOf(axis)) {
      if (!(Math.abs(extreme) >= MIN_CLIP_MS2)) continue
      const plateaus = plateausAt(axis, extreme, stepMs2)
      if (plateaus.length === 0) continue
      middle ??= median(axis)
      if (!(Math.abs(extreme - middle) >= MIN_STEPS_AWAY * stepMs2)) continue
      for (const [from, to] of plateaus) clipped.fill(1, from, to)
      hasClipped = true
    }
  }
  return hasClipped ? clipped.reduce((sum, flag) => sum + flag, 0) : 0
}

function extremesOf(axis: Float64Array): [number, number] {
  let low = Infinity
  let high = -Infinity
  for (let i = 0; i < axis.length; i++) {
    const value = axis[i]
    if (value < low) low = value
    if (value > high) high = value
  }
  return [low, high]
}

/** The runs [from, to) of 3 or more samples at the extreme; none when values next to it are as common. */
function plateausAt(axis: Float64Array, extreme: number, stepMs2: number): [number, number][] {
  const runs: [number, number][] = []
  const reachMs2 = 1.5 * stepMs2
  let held = 0
  let near = 0
  for (let i = 0; i < axis.length; i++) {
    const distance = Math.abs(axis[i] - extreme)
    if (distance > reachMs2) continue
    if (axis[i] !== extreme) {
      near++
      continue
    }
    const from = i
    while (i + 1 < axis.length && axis[i + 1] === extreme) i++
    if (i + 1 - from < MIN_RUN) continue
    runs.push([from, i + 1])
    held += i + 1 - from
  }
  return held < CROWDING * near ? [] : runs
}
