import { angleDeg } from '../mount/rotation.ts'
import { withinDeg } from './direction.ts'
import { TICK_S } from './motion-ticks.ts'
import type { MotionTicks } from './motion-ticks.ts'
import type { Reference } from './reference.ts'
import { STRETCH_TICKS } from './stretches.ts'
import type { Stretch } from './stretches.ts'

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
/** Stretches in the new position agree within this, degrees. */
const AGREE_DEG = 10
export const isUnturned = withinDeg(SHIFT_DEG)
export const isOnTheDog = withinDeg(MAX_SHIFT_DEG)
export const agrees = withinDeg(AGREE_DEG)
const agreesClosely = withinDeg(AGREE_DEG / 2)
/** After the turn at least this share of the time shows the new direction, … */
export const MIN_NEW_SHARE = 0.5
/** … at most this share the old one. */
export const MAX_OLD_SHARE = 0.1
/** Every second of a stretch moves at least this much: a dog on the go, not one sitting, m/s² RMS. */
export const LIVELY_MS2 = 0.5
/** Quiet stretches further apart than this, start to start, have something between them, ticks. */
const SEPARATE_TICKS = STRETCH_TICKS + 15

/**
 * Looks for a lasting turn of the sensor on the dog: from some time on, gravity averaged over 5 s lies
 * in a new direction, 10° to 35° from the reference, for most of the time, and next to never in the
 * old one. Moving stretches count too, since motion averages out over seconds. A dog that sits down
 * for the rest of a recording looks the same while it sits: the turn is believed only when the dog
 * walked about in it for 5 s, or came back to it after something else. Null without such a turn.
 */
export function findMountShift(ticks: MotionTicks, reference: Reference): MountShift | null {
  const afterTick = Math.ceil(reference.toS / TICK_S)
  const after = ticks.stretches().filter(({ from }) => from >= afterTick)
  const isOld = (stretch: Stretch) => isUnturned(stretch.up, reference.gravity)
  const up = commonestUp(after.slice(lastChange(after.map((s) => (isOld(s) ? 1 : -1)))), reference)
  if (!up) return null
  const isNew = (stretch: Stretch) =>
    agrees(stretch.up, up) && angleDeg(stretch.up, up) <= angleDeg(stretch.up, reference.gravity)
  // Again without the other postures, which belong to neither side.
  const turned = after.slice(lastChange(after.map((s) => (isNew(s) ? -1 : isOld(s) ? 1 : 0))))
  const agreeing = turned.filter(isNew)
  if (agreeing.length < MIN_NEW_SHARE * turned.length || !isLasting(agreeing)) return null
  if (turned.filter((s) => isOld(s) && !isNew(s)).length > MAX_OLD_SHARE * turned.length) return null
  const best = agreeing.reduce((least, stretch) => (stretch.most < least.most ? stretch : least))
  return {
    atS: turnTick(ticks, reference, up, after, turned[0].from) * TICK_S,
    angleDeg: angleDeg(best.up, reference.gravity),
    // What counts as quiet stays that of the floor; only the direction of gravity is renewed.
    reference: { ...reference, gravity: best.up },
  }
}

/** The index that best splits votes into positive ones before it and negative ones from it on. */
function lastChange(votes: readonly number[]): number {
  let sum = 0
  let best = 0
  let at = 0
  votes.forEach((vote, i) => {
    sum += vote
    if (sum >= best) {
      best = sum
      at = i + 1
    }
  })
  return at
}

/** Up in the turned stretch most others agree with; null when none lies 10° to 35° from the reference. */
function commonestUp(turned: readonly Stretch[], reference: Reference): Stretch['up'] | null {
  const stride = Math.ceil(turned.length / 200)
  let most = 0
  let up: Stretch['up'] | null = null
  for (let i = 0; i < turned.length; i += stride) {
    if (isUnturned(turned[i].up, reference.gravity)) continue
    if (!isOnTheDog(turned[i].up, reference.gravity)) continue
    let near = 0
    for (let j = 0; j < turned.length; j += stride) {
      if (agreesClosely(turned[j].up, turned[i].up)) near++
    }
    if (near > most) {
      most = near
      up = turned[i].up
    }
  }
  return up
}

function isLasting(agreeing: readonly Stretch[]): boolean {
  if (agreeing.some(({ least }) => least >= LIVELY_MS2 ** 2)) return true
  const still = agreeing.filter(({ most }) => most < LIVELY_MS2 ** 2)
  return still.some(({ from }, i) => i > 0 && from - still[i - 1].from > SEPARATE_TICKS)
}

/**
 * The tick that best splits those around `guess` into nearer to the old direction before it
 * and nearer to the new one after it.
 */
function turnTick(
  ticks: MotionTicks,
  reference: Reference,
  up: readonly number[],
  all: readonly Stretch[],
  guess: number,
): number {
  const from = Math.max(all[0].from, guess - 2 * STRETCH_TICKS)
  const to = Math.min(ticks.length, guess + 3 * STRETCH_TICKS)
  const votes: number[] = []
  for (let k = from; k < to; k++) {
    const now = ticks.meanRawOver(k, k + 1)
    votes.push(now ? clamp(angleDeg(now, up) - angleDeg(now, reference.gravity)) : 0)
  }
  return from + lastChange(votes)
}

/** One wild tick must not outvote many calm ones. */
function clamp(degrees: number): number {
  return Math.max(-SHIFT_DEG, Math.min(SHIFT_DEG, degrees))
}
