import { angleDeg } from '../mount/rotation.ts'
import type { Mark } from '../trace/trace.ts'
import { TICK_S } from './motion-ticks.ts'
import type { MotionTicks } from './motion-ticks.ts'
import {
  agrees,
  findMountShift,
  isOnTheDog,
  isUnturned,
  LIVELY_MS2,
  MAX_OLD_SHARE,
  MIN_NEW_SHARE,
} from './mount-shift.ts'
import type { MountShift } from './mount-shift.ts'
import { findReference, quietCandidates, quietestOf } from './reference.ts'
import type { Reference } from './reference.ts'
import { STRETCH_TICKS } from './stretches.ts'

/** The reference stand of a recording, and the turn of the sensor after it if there was one. */
export interface Stance {
  readonly reference: Reference | null
  readonly shift: MountShift | null
}

/**
 * The reference as by `findReference`, with the turn of the sensor after it. In a recording without marks the
 * quietest stretch may lie on the wrong side of a turn:
 * - after it: then the quietest stretch before it becomes the reference;
 * - before it, in a posture the dog never walked about in: then the dog sat still before it stood, the sensor
 *   never turned, and the quietest stretch of the later posture becomes the reference.
 */
export function findStance(ticks: MotionTicks, marks: readonly Mark[], untilTick?: number): Stance {
  const reference = findReference(ticks, marks, untilTick)
  if (!reference) return { reference, shift: null }
  if (reference.basis !== 'quietest stretch') return { reference, shift: findMountShift(ticks, reference) }
  const before = stanceBefore(ticks, reference)
  if (before) return before
  const shift = findMountShift(ticks, reference)
  if (!shift || isWalkedIn(ticks, reference, shift)) return { reference, shift }
  const standing = quietestOf(
    ticks,
    quietCandidates(ticks).filter(({ up }) => agrees(up, shift.reference.gravity)),
  )
  return standing ? { reference: standing, shift: findMountShift(ticks, standing) } : { reference, shift }
}

/** The stance whose turn led to the posture of a quietest stretch; null without one. */
function stanceBefore(ticks: MotionTicks, later: Reference): Stance | null {
  const laterTick = later.fromS / TICK_S
  const candidates = quietCandidates(ticks).filter(
    ({ from, up }) => from < laterTick && !isUnturned(up, later.gravity) && isOnTheDog(up, later.gravity),
  )
  const reference = quietestOf(ticks, candidates)
  const shift = reference && findMountShift(ticks, reference)
  if (!shift || shift.atS > later.fromS || !agrees(shift.reference.gravity, later.gravity)) return null
  return isWalkedIn(ticks, reference, shift) ? { reference, shift } : null
}

/**
 * Whether the time before a turn shows the direction of its reference as that after it the new one: for most
 * of the time, with next to nothing of the new, and also while the dog was on the go.
 */
function isWalkedIn(ticks: MotionTicks, reference: Reference, shift: MountShift): boolean {
  const turnTick = shift.atS / TICK_S
  const before = ticks.stretches().filter(({ from }) => from + STRETCH_TICKS <= turnTick)
  const old = before.filter(({ up }) => isUnturned(up, reference.gravity))
  const turned = before.filter(
    ({ up }) => angleDeg(up, shift.reference.gravity) < angleDeg(up, reference.gravity),
  )
  if (old.length < MIN_NEW_SHARE * before.length || turned.length > MAX_OLD_SHARE * before.length)
    return false
  return old.some(({ least }) => least >= LIVELY_MS2 ** 2)
}
