import { median } from './median.ts'
import { TraceError } from './trace-error.ts'
import type { Place } from './trace-error.ts'

/** A row may come this much late and still be put in its place, s: a packet sent again, not a clock set back. */
const MAX_LATE_S = 1
/** From this share of repeated stamps on, the clock is coarser than the samples. */
export const COARSE_SHARE = 0.25
/** Rows put in their place must fall into holes: this share of the median step on both sides. */
const MIN_HOLE_STEPS = 0.75

export interface Order {
  /** Rows to keep, in order of time. */
  readonly rows: Uint32Array
  readonly duplicates: number
  /** Rows that stood out of order. */
  readonly moved: number
}

/**
 * Puts rows in strictly ascending time. Rows equal in every value are dropped as duplicates. Late
 * rows are moved only when every stamp is distinct, none is later than 1 s, and they fall into
 * holes; anything else could be a clock set back, and is refused.
 *
 * @param tS seconds, file order
 * @param channels the values that must agree for a row to be a duplicate
 * @param placeOf where a row stands in the file
 * @throws {TraceError} TIME_ORDER, COARSE_TIME
 */
export function orderRows(
  tS: Float64Array,
  channels: readonly Float64Array[],
  placeOf: (row: number) => Place,
): Order {
  const n = tS.length
  const rows = new Uint32Array(n).map((_, i) => i)
  let moved: number[] = []
  let latest = -Infinity
  let repeated = 0
  for (let i = 0; i < n; i++) {
    if (tS[i] < latest) {
      if (latest - tS[i] > MAX_LATE_S) throw backwards(latest - tS[i], placeOf(i))
      moved.push(i)
    } else {
      if (tS[i] === latest) repeated++
      latest = tS[i]
    }
  }
  if (moved.length === 0 && repeated === 0) return { rows, duplicates: 0, moved: 0 }
  if (moved.length > 0) rows.sort((a, b) => tS[a] - tS[b] || a - b)

  const isSame = (a: number, b: number) => channels.every((channel) => channel[a] === channel[b])
  let kept = 0
  for (let i = 0; i < n; i++) {
    const row = rows[i]
    if (kept > 0 && tS[rows[kept - 1]] === tS[row]) {
      if (isSame(rows[kept - 1], row)) continue
      throw repeated > COARSE_SHARE * n ? coarseTime(placeOf(row)) : contradiction(placeOf(row))
    }
    rows[kept++] = row
  }
  const order = rows.subarray(0, kept)
  const keptRows = new Set(order)
  moved = moved.filter((row) => keptRows.has(row))
  if (moved.length > 0) requireHoles(tS, order, new Set(moved), placeOf)
  return { rows: order, duplicates: n - kept, moved: moved.length }
}

/** A late packet leaves a hole where it belongs; a clock set back writes over time already filled. */
function requireHoles(
  tS: Float64Array,
  order: Uint32Array,
  moved: ReadonlySet<number>,
  placeOf: (row: number) => Place,
): void {
  if (order.length < 3) return
  const steps = new Float64Array(order.length - 1).map((_, i) => tS[order[i + 1]] - tS[order[i]])
  const medianStep = median(steps)
  let sum = 0
  let count = 0
  for (let i = 0; i < order.length; i++) {
    if (!moved.has(order[i])) continue
    // A step longer than the median says nothing more than the median: a gap must not hide a crowd.
    if (i > 0) sum += Math.min(steps[i - 1], medianStep)
    if (i < steps.length) sum += Math.min(steps[i], medianStep)
    count += (i > 0 ? 1 : 0) + (i < steps.length ? 1 : 0)
  }
  if (sum / count < MIN_HOLE_STEPS * medianStep)
    throw backwards(null, placeOf(moved.values().next().value as number))
}

const CLOCK_REMEDY = 'Cut the file at the jump and read the parts one by one.'

function backwards(byS: number | null, place: Place): TraceError {
  const by = byS === null ? '' : ` by ${byS.toPrecision(3)} s`
  return new TraceError(
    'TIME_ORDER',
    `the time goes back${by}, as if the clock had been set`,
    CLOCK_REMEDY,
    place,
  )
}

function contradiction(place: Place): TraceError {
  return new TraceError(
    'TIME_ORDER',
    'two samples carry the same time and different values',
    'Remove one of them, or give the samples per second and map the axes without t.',
    place,
  )
}

/** The error for stamps that repeat from sample to sample. */
export function coarseTime(place: Place = {}): TraceError {
  return new TraceError(
    'COARSE_TIME',
    'many samples carry the same time: the clock of the file is coarser than its samples',
    'Give the samples per second and map the axes without t.',
    place,
  )
}
