import { TraceError } from './trace-error.ts'
import type { Place } from './trace-error.ts'
import type { Vector3Series } from './trace.ts'

const MIN_SAMPLES = 10
const MIN_DURATION_S = 1
/** A day: what seems longer is a clock that jumped, as from seconds since start to seconds since 1970. */
const MAX_DURATION_S = 86_400
/** About 10 000 g, far beyond the range of any body-worn accelerometer (common practice, no source). */
const MAX_ACC_MS2 = 1e5

/** @throws {TraceError} TOO_SHORT below 10 samples */
export function requireSamples(count: number): void {
  if (count >= MIN_SAMPLES) return
  throw tooShort(`${count} ${count === 1 ? 'sample is' : 'samples are'} too few (at least ${MIN_SAMPLES})`)
}

/**
 * @param t seconds from the first sample, strictly ascending, shape (n), n >= 2
 * @param placeOf where sample i stands in the file
 * @throws {TraceError} TOO_SHORT below 1 s; BAD_TIME above a day, at the largest step, where the clock jumped
 */
export function requireDuration(t: Float64Array, placeOf: (i: number) => Place): void {
  const durationS = t[t.length - 1]
  if (durationS < MIN_DURATION_S) {
    throw tooShort(`${shortNumber(durationS)} s is too short (at least ${MIN_DURATION_S} s)`)
  }
  if (durationS <= MAX_DURATION_S) return
  let at = 1
  for (let i = 2; i < t.length; i++) if (!(t[i] - t[i - 1] <= t[at] - t[at - 1])) at = i
  throw new TraceError(
    'BAD_TIME',
    `the times span ${shortNumber(durationS / 3600)} h, with a jump of ${shortNumber(t[at] - t[at - 1])} s here`,
    'Cut the file at the jump and read the parts one by one.',
    placeOf(at),
  )
}

/**
 * One impossible value, such as a broken cell, would drown every measure around it.
 * @param acc m/s²
 * @throws {TraceError} BAD_VALUE beyond 100 000 m/s²
 */
export function requirePossible(
  { x, y, z }: Vector3Series,
  placeOf: (axis: 0 | 1 | 2, i: number) => Place,
): void {
  for (const [axis, values] of [[0, x] as const, [1, y] as const, [2, z] as const]) {
    const i = values.findIndex((value) => Math.abs(value) > MAX_ACC_MS2)
    if (i === -1) continue
    throw new TraceError(
      'BAD_VALUE',
      `${shortNumber(values[i])} m/s² is more than any sensor on a body can report`,
      'Remove or correct the row, or check the unit.',
      placeOf(axis, i),
    )
  }
}

/** The error for a recording too short to measure. */
export function tooShort(what: string): TraceError {
  return new TraceError('TOO_SHORT', what, 'Record at least a few seconds of standing.')
}

function shortNumber(value: number): string {
  return String(Number(value.toPrecision(3)))
}
