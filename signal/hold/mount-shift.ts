import { angleDeg } from '../mount/rotation.ts'
import { TICK_S, TickSum } from './motion-ticks.ts'
import type { MotionTicks } from './motion-ticks.ts'
import type { Reference } from './reference.ts'
import { MOTION_WINDOW_TICKS } from './settings.ts'

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
/** After the turn at least this share of the time shows the new direction, … */
const MIN_NEW_SHARE = 0.5
/** … at most this share the old one. */
const MAX_OLD_SHARE = 0.1
/** Direction is judged over this long, moving or not, each half second, ticks. */
const STRETCH_TICKS = 50
const STRETCH_HOP_TICKS = 5
const MIN_COVERAGE = 0.9
/** Every second of a stretch moves at least this much: a dog on the go, not one sitting, m/s² RMS. */
const LIVELY_MS2 = 0.5
/** Quiet stretches further apart than this, start to start, have something between them, ticks. */
const SEPARATE_TICKS = STRETCH_TICKS + 15

/** Five seconds of the recording: which way is up on average, and how much it moves. */
interface Stretch {
  readonly from: number
  readonly up: readonly [number, number, number]
  /** Variances of the stillest and the liveliest second, three axes summed, (m/s²)². */
  readonly least: number
  readonly most: number
}

/**
 * Looks for a lasting turn of the sensor on the dog: from some time on, gravity averaged over 5 s lies
 * in a new direction, 10° to 35° from the reference, for most of the time, and next to never in the
 * old one. Moving stretches count too, since motion averages out over seconds. A dog that sits down
 * for the rest of a recording looks the same while it sits: the turn is believed only when the dog
 * walked about in it for 5 s, or came back to it after something else. Null without such a turn.
 */
export function findMountShift(ticks: MotionTicks, reference: Reference): MountShift | null {
  const after = stretchesFrom(ticks, Math.ceil(reference.toS / TICK_S))
  const isOld = (stretch: Stretch) => angleDeg(stretch.up, reference.gravity) <= SHIFT_DEG
  const up = commonestUp(after.slice(lastChange(after.map((s) => (isOld(s) ? 1 : -1)))), reference)
  if (!up) return null
  const isNew = (stretch: Stretch) =>
    angleDeg(stretch.up, up) <= Math.min(AGREE_DEG, angleDeg(stretch.up, reference.gravity))
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

function stretchesFrom(ticks: MotionTicks, fromTick: number): Stretch[] {
  const sum = new TickSum()
  const stretches: Stretch[] = []
  const first = Math.ceil(fromTick / STRETCH_HOP_TICKS) * STRETCH_HOP_TICKS
  for (let from = first; from + STRETCH_TICKS <= ticks.length; from += STRETCH_HOP_TICKS) {
    const to = from + STRETCH_TICKS
    if (ticks.coverage(from, to) < MIN_COVERAGE) continue
    let least = Number.POSITIVE_INFINITY
    let most = 0
    for (let k = from; k < to; k += MOTION_WINDOW_TICKS) {
      if (ticks.sum(k, k + MOTION_WINDOW_TICKS, sum).count === 0) continue
      least = Math.min(least, sum.variance())
      most = Math.max(most, sum.variance())
    }
    stretches.push({ from, up: ticks.sum(from, to, sum).meanRaw(), least, most })
  }
  return stretches
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
    const angle = angleDeg(turned[i].up, reference.gravity)
    if (angle <= SHIFT_DEG || angle > MAX_SHIFT_DEG) continue
    let near = 0
    for (let j = 0; j < turned.length; j += stride) {
      if (angleDeg(turned[j].up, turned[i].up) <= AGREE_DEG / 2) near++
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
