import { angleDeg } from '../mount/rotation.ts'
import { TICK_S } from './motion-ticks.ts'
import type { MotionTicks } from './motion-ticks.ts'
import { quietCandidates, referenceOver } from './reference.ts'
import type { Reference } from './reference.ts'

/** Where the harness moved on the dog, and the reference that holds from then on. */
export interface MountShift {
  readonly atS: number
  readonly angleDeg: number
  readonly reference: Reference
}

/** Smaller turns are not reported, degrees (signal.md §4). */
const SHIFT_DEG = 10
/** A slipped harness turns no further than this without falling off; more is another posture, degrees. */
const MAX_SHIFT_DEG = 35
/** Quiet stretches in the new position agree within this, degrees. */
const AGREE_DEG = 10
/** A single quiet stretch is believed only when it is this long and turned no further than a sit, s, degrees. */
const LONE_STRETCH_S = 8
const LONE_MAX_DEG = 25
/** Quiet windows of 5 s further apart than this belong to separate stretches, ticks. */
const SEPARATE_TICKS = 15

/**
 * Looks for a lasting turn of the sensor: from some time on, every quiet stretch shows gravity more
 * than 10° (and less than 35°) from the reference, all in one direction, and either the dog moved
 * and came back to it or it lasted 8 s. A dog that sits for the rest of a recording can look the
 * same; the result is therefore flagged wherever it is used. Null without such a turn.
 */
export function findMountShift(ticks: MotionTicks, reference: Reference): MountShift | null {
  const after = quietCandidates(ticks).filter((stretch) => stretch.from * TICK_S >= reference.toS)
  let first = after.length
  while (first > 0 && isTurned(angleDeg(after[first - 1].up, reference.gravity))) first--
  const turned = after.slice(first)
  if (turned.length === 0) return null
  const best = turned.reduce((least, stretch) => (stretch.variance < least.variance ? stretch : least))
  const agreeing = turned.filter((stretch) => angleDeg(stretch.up, best.up) <= AGREE_DEG)
  const angle = angleDeg(best.up, reference.gravity)
  if (agreeing.length < 0.8 * turned.length || !isLasting(turned, angle)) return null
  const fromS = best.from * TICK_S
  const renewed = referenceOver(ticks, fromS, fromS + 5, reference.basis)
  if (!renewed) return null
  return {
    atS: turnTime(ticks, reference, first > 0 ? after[first - 1].from + 50 : 0, turned[0].from),
    angleDeg: angle,
    // What counts as quiet stays that of the floor; only the direction of gravity is renewed.
    reference: { ...reference, gravity: renewed.gravity },
  }
}

function isTurned(degrees: number): boolean {
  return degrees > SHIFT_DEG && degrees <= MAX_SHIFT_DEG
}

function isLasting(turned: readonly { from: number }[], angle: number): boolean {
  const separate = turned.some((stretch, i) => i > 0 && stretch.from - turned[i - 1].from > SEPARATE_TICKS)
  const lengthS = (turned.at(-1)!.from - turned[0].from) * TICK_S + 5
  return separate || (lengthS >= LONE_STRETCH_S && angle <= LONE_MAX_DEG)
}

/** The last second before the turned stretches in which gravity still agreed, else their beginning. */
function turnTime(ticks: MotionTicks, reference: Reference, from: number, to: number): number {
  for (let k = to; k > Math.max(from, Math.round(reference.toS / TICK_S)); k--) {
    const up = ticks.meanRawOver(k - 10, k)
    if (up && angleDeg(up, reference.gravity) <= SHIFT_DEG) return k * TICK_S
  }
  return to * TICK_S
}
