import { median } from 'simple-statistics'
import type { Mark } from '../trace/trace.ts'
import { norm } from '../mount/rotation.ts'
import { withinDeg } from './direction.ts'
import { TICK_S, TickSum } from './motion-ticks.ts'
import type { MotionTicks } from './motion-ticks.ts'
import { MOTION_WINDOW_TICKS } from './settings.ts'
import { STRETCH_TICKS } from './stretches.ts'
import type { Stretch } from './stretches.ts'

/** The stand everything else is measured against: where it is and what it says. */
export interface Reference {
  readonly fromS: number
  readonly toS: number
  readonly basis: 'quiet-stand marks' | 'quietest stretch'
  /** Mean acceleration, sensor axes, m/s²: up, and how much the sensor reads at rest. */
  readonly gravity: readonly [number, number, number]
  /** Median variance of 1 s windows of low-passed acceleration, three axes summed, (m/s²)². */
  readonly motionVariance: number
  /** Median power of the same windows after the 4 Hz high-pass, three axes summed, (m/s²)². */
  readonly highPower: number
  /** Median of the live sway measure (horizontal RMS of 2 s) over the stand, m/s². */
  readonly swayMs2: number
}

/** Window of the live sway measure, ticks. */
export const SWAY_NOW_TICKS = 20

const MIN_COVERAGE = 0.9
/** A marked quiet stand shorter than this is not used, s. */
const MIN_MARKED_S = 2
/** A quiet stand whose end was never marked is taken to last this long, s (the plan's 10 s). */
const UNENDED_STAND_S = 10
/** Candidate stretches move at most this many times as much as the quietest one … */
const QUIET_RATIO = 6
/** … but this much motion always counts as quiet, and this much never does, m/s² RMS. */
export const ALWAYS_QUIET_MS2 = 0.15
const NEVER_QUIET_MS2 = 0.6
/** Postures within this angle are one posture, degrees. */
const SAME_POSTURE_DEG = 12
const isSamePosture = withinDeg(SAME_POSTURE_DEG)
/** Candidates compared pairwise; more are thinned evenly. */
const MAX_COMPARED = 400

/**
 * Finds the reference stand of a recording: the marked quiet stand if there is one (the last
 * complete one), otherwise the quietest 5 s in the posture the dog kept quiet longest. Taking the
 * commonest posture first keeps a still sit, or a harness lying on the table, from becoming the
 * reference. Null when no stretch of 5 s is quiet (all above 0.6 m/s² RMS) or complete enough.
 *
 * @param marks ascending in time
 * @param untilTick while more samples are to come: how far they have; a marked stand that ends
 *   later is not used yet
 */
export function findReference(
  ticks: MotionTicks,
  marks: readonly Mark[],
  untilTick = Number.POSITIVE_INFINITY,
): Reference | null {
  return markedReference(ticks, marks, untilTick) ?? quietestReference(ticks)
}

/** The tick at which the next marked quiet stand is complete, after tick `afterTick`; infinite for none. */
export function nextStandEndTick(marks: readonly Mark[], afterTick: number): number {
  const ends = markedStands(marks).map(({ toS }) => lastTick(toS))
  return Math.min(...ends.filter((end) => end > afterTick), Number.POSITIVE_INFINITY)
}

/** The reference measured over given seconds; null when fewer than 2 s of signal lie in it. */
export function referenceOver(
  ticks: MotionTicks,
  markedFromS: number,
  toS: number,
  basis: Reference['basis'],
): Reference | null {
  // A mark may lie before the first sample, even absurdly far.
  const fromS = Math.max(0, markedFromS)
  const from = Math.ceil(fromS / TICK_S - 1e-6)
  const to = Math.min(ticks.length, lastTick(toS))
  if ((to - from) * TICK_S < MIN_MARKED_S - 1e-9) return null
  const sum = new TickSum()
  ticks.sum(from, to, sum)
  if (sum.count < MIN_MARKED_S * ticks.rateHz * 0.5) return null
  const gravity = sum.meanRaw()
  const up = gravity.map((v) => v / norm(gravity))
  const motion: number[] = []
  const sway: number[] = []
  const high: number[] = []
  for (let k = from; k + MOTION_WINDOW_TICKS <= to; k++) {
    if (ticks.coverage(k, k + MOTION_WINDOW_TICKS) < MIN_COVERAGE) continue
    motion.push(ticks.sum(k, k + MOTION_WINDOW_TICKS, sum).variance())
    high.push(sum.highPower())
    if (k + SWAY_NOW_TICKS > to) continue
    ticks.sum(k, k + SWAY_NOW_TICKS, sum)
    sway.push(Math.sqrt(Math.max(0, sum.variance() - sum.varianceAlong(up))))
  }
  if (motion.length === 0 || sway.length === 0) return null
  return {
    fromS,
    toS,
    basis,
    gravity,
    motionVariance: median(motion),
    highPower: median(high),
    swayMs2: median(sway),
  }
}

function markedReference(ticks: MotionTicks, marks: readonly Mark[], untilTick: number): Reference | null {
  for (const { fromS, toS } of markedStands(marks).reverse()) {
    if (lastTick(toS) > untilTick) continue
    const reference = referenceOver(ticks, fromS, toS, 'quiet-stand marks')
    if (reference) return reference
  }
  return null
}

/** The marked quiet stands in order. */
function markedStands(marks: readonly Mark[]): { fromS: number; toS: number }[] {
  return marks.flatMap(({ kind, atS }, i) => {
    if (kind !== 'quiet-stand-start') return []
    const end = marks.slice(i + 1).find((mark) => mark.kind === 'quiet-stand-end')
    return [{ fromS: atS, toS: end ? end.atS : atS + UNENDED_STAND_S }]
  })
}

function lastTick(toS: number): number {
  return Math.floor(toS / TICK_S + 1e-6)
}

function quietestReference(ticks: MotionTicks): Reference | null {
  return quietestOf(ticks, quietCandidates(ticks))
}

/** The quietest of some candidates in the posture most of them share; null for none. */
export function quietestOf(ticks: MotionTicks, candidates: readonly Stretch[]): Reference | null {
  if (candidates.length === 0) return null
  const posture = commonestPosture(candidates)
  let best = posture[0]
  for (const c of posture) if (c.variance < best.variance) best = c
  return referenceOver(ticks, best.from * TICK_S, (best.from + STRETCH_TICKS) * TICK_S, 'quietest stretch')
}

/** Every 5 s stretch (hop 0.5 s) that counts as quiet, with its direction of gravity. */
export function quietCandidates(ticks: MotionTicks): Stretch[] {
  const all = ticks.stretches()
  const least = all.reduce((variance, stretch) => Math.min(variance, stretch.variance), Infinity)
  const limit = Math.min(Math.max(QUIET_RATIO * Math.sqrt(least), ALWAYS_QUIET_MS2), NEVER_QUIET_MS2)
  return all.filter(({ variance }) => variance <= limit * limit)
}

function commonestPosture(candidates: readonly Stretch[]): Stretch[] {
  const stride = Math.ceil(candidates.length / MAX_COMPARED)
  const sample = candidates.filter((_, i) => i % stride === 0)
  let centre = sample[0]
  let most = 0
  for (const c of sample) {
    let near = 0
    for (const other of sample) if (isSamePosture(c.up, other.up)) near++
    if (near > most) {
      most = near
      centre = c
    }
  }
  return candidates.filter((c) => isSamePosture(c.up, centre.up))
}
