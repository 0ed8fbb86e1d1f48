import type { DogAxes } from '../sway/dog-axes.ts'
import type { Mark, UniformTrace } from '../trace/trace.ts'
import { angleDeg, compose, rotationToVertical, toDogAxes } from './rotation.ts'
import type { Rotation } from './rotation.ts'

/** A marked led walk, seconds from the start of the trace. */
export interface WalkSpan {
  readonly fromS: number
  readonly toS: number
}

/** Which way the dog faces, found from led steps. */
export interface WalkHeading {
  /** Rows CC, ML, DV in sensor axes: dog = rotation · sensor. */
  readonly rotation: Rotation
  /** How well the steps agree on the line of CC: standard error of its direction, degrees. */
  readonly standardErrorDeg: number
  /** Mean speed of the walk found by integration, m/s; its sign told front from back, so it is > 0. */
  readonly speedMs: number
}

/** A heading, or why there is none. */
export type HeadingOutcome =
  | { readonly heading: WalkHeading; readonly reason: null }
  | { readonly heading: null; readonly reason: string }

/** A shorter walk has too few steps to speak of, s. */
const MIN_WALK_S = 3
/** Steps of dogs led at a walk or trot come at this distance, s (from cats' size to giants; our choice). */
const STEP_S = { from: 0.15, to: 0.8 }
/** Least correlation of the bounce (DV) one step apart: below, there was no steady gait. */
const MIN_BOUNCE = 0.3
/** Least RMS of the bounce, m/s²: a dog standing, breathing and swaying stays below (our choice). */
const MIN_BOUNCE_MS2 = 0.3
/** The direction is found in this many parts of the walk, whose scatter gives its standard error. */
const BLOCKS = 6
const MAX_STANDARD_ERROR_DEG = 8
/** Up during the walk must lie this near that of the reference stand, degrees: else the sensor moved on the dog. */
const MAX_TILT_DEG = 10
/** Speed by integration must reach this to tell front from back, m/s; led walks go at about 0.5 to 1.5. */
const MIN_SPEED_MS = 0.2

/** Moments of one walk, or part of it, in level axes h1, h2: h(t)·h(t + one step), symmetric. */
interface StepMoment {
  readonly h11: number
  readonly h12: number
  readonly h22: number
}

/**
 * The heading from led walking: in a gait of alternating left and right steps, the acceleration along the body
 * repeats from step to step while that across it changes sign, since left and right steps mirror each other
 * (gait symmetry; Moe-Nilssen & Helbostad 2004, J Biomech 37:121–126, from memory; used to align trunk sensors
 * by Avvenuti et al. 2013, Electron Lett 49). So with h the horizontal acceleration and τ the time of one step,
 * found where the bounce on DV repeats, the symmetric part of the moments ⟨h(t)·h(t + τ)ᵀ⟩ is largest along CC
 * and least, below 0, along ML: CC is its first eigenvector. Unlike the largest variance alone this holds for dogs
 * that swing sideways more than they surge.
 *
 * Front is where the dog went: the acceleration along CC, its mean removed so that the walk begins and ends
 * at the same speed, integrated twice. Speeding up at the start counts +, slowing down at the end −.
 *
 * @param gravity mean acceleration of the reference stand, sensor axes, m/s²
 * @param walks marked spans of straight led walking, s
 */
export function headingFromWalk(
  uniform: UniformTrace,
  gravity: readonly number[],
  walks: readonly WalkSpan[],
): HeadingOutcome {
  const none = (reason: string): HeadingOutcome => ({ heading: null, reason })
  if (walks.length === 0) return none('no led walk was marked')
  const { rateHz } = uniform
  const level = rotationToVertical(gravity)
  const pieces = walks.flatMap((walk) => levelPiece(uniform, level, walk))
  if (pieces.length === 0) {
    return none(`the led walk holds no gap-free ${MIN_WALK_S} s with the sensor upright as in the stand`)
  }
  const moments: StepMoment[] = []
  for (const piece of pieces) {
    const step = stepSamples(piece.dv, rateHz)
    if (step !== null) moments.push(...blockMoments(piece, step))
  }
  if (moments.length === 0) return none('the led walk shows no steady steps')
  const angle = lineAngle(summed(moments))
  const standardErrorDeg = (jackknifeError(moments) * 180) / Math.PI
  if (!(standardErrorDeg <= MAX_STANDARD_ERROR_DEG)) {
    return none(
      `the steps of the led walk agree on a direction only to ${standardErrorDeg.toFixed(0)}°, ` +
        `${MAX_STANDARD_ERROR_DEG}° are needed`,
    )
  }
  const speed = meanSpeed(pieces, angle, rateHz)
  if (!(Math.abs(speed) >= MIN_SPEED_MS)) {
    return none('the led walk shows along which line the dog faces but not which end is the front')
  }
  const facing = speed > 0 ? angle : angle + Math.PI
  const turn: Rotation = [
    [Math.cos(facing), Math.sin(facing), 0],
    [-Math.sin(facing), Math.cos(facing), 0],
    [0, 0, 1],
  ]
  return {
    heading: { rotation: compose(turn, level), standardErrorDeg, speedMs: Math.abs(speed) },
    reason: null,
  }
}

/** The spans between marks of the start and the end of a led walk; one never ended is left out. */
export function walkSpans(marks: readonly Mark[]): WalkSpan[] {
  return marks.flatMap(({ kind, atS }, i) => {
    if (kind !== 'walk-start') return []
    const next = marks.slice(i + 1).find((mark) => mark.kind === 'walk-start' || mark.kind === 'walk-end')
    return next?.kind === 'walk-end' ? [{ fromS: atS, toS: next.atS }] : []
  })
}

/**
 * The longest gap-free part of a walk in level axes (cc and ml: any two horizontal ones), their means removed;
 * none when it is too short or up lies elsewhere than in the stand.
 */
function levelPiece(uniform: UniformTrace, level: Rotation, walk: WalkSpan): DogAxes[] {
  const { rateHz } = uniform
  let best: DogAxes | null = null
  for (const { startS, acc } of uniform.stretches) {
    const from = Math.max(0, Math.ceil((walk.fromS - startS) * rateHz))
    const to = Math.min(acc.x.length, Math.ceil((walk.toS - startS) * rateHz))
    if (to - from < Math.max(MIN_WALK_S * rateHz, best?.dv.length ?? 0)) continue
    const part = { x: acc.x.subarray(from, to), y: acc.y.subarray(from, to), z: acc.z.subarray(from, to) }
    best = toDogAxes(level, part)
  }
  if (!best) return []
  const axes = [best.cc, best.ml, best.dv]
  const means = axes.map((axis) => axis.reduce((sum, value) => sum + value, 0) / axis.length)
  if (angleDeg(means, [0, 0, 1]) > MAX_TILT_DEG) return []
  axes.forEach((axis, k) => {
    for (let i = 0; i < axis.length; i++) axis[i] -= means[k]
  })
  return [best]
}

/** Time from step to step in samples, not whole: the first high peak of the autocorrelation of DV; null for none. */
function stepSamples(dv: Float64Array, rateHz: number): number | null {
  const from = Math.max(1, Math.floor(STEP_S.from * rateHz))
  const to = Math.min(Math.ceil(STEP_S.to * rateHz), dv.length >> 1)
  const correlation = new Float64Array(to + 2)
  for (let lag = 0; lag < correlation.length; lag++) {
    let sum = 0
    for (let i = 0; i + lag < dv.length; i++) sum += dv[i] * dv[i + lag]
    correlation[lag] = sum / (dv.length - lag)
  }
  if (!(correlation[0] >= MIN_BOUNCE_MS2 ** 2)) return null
  let most = 0
  const peaks: number[] = []
  for (let lag = from; lag <= to; lag++) {
    if (correlation[lag] < correlation[lag - 1] || correlation[lag] < correlation[lag + 1]) continue
    peaks.push(lag)
    most = Math.max(most, correlation[lag])
  }
  if (!(most >= MIN_BOUNCE * correlation[0])) return null
  // Two and more steps correlate as well as one: the first peak near the highest is one step.
  const peak = peaks.find((lag) => correlation[lag] >= 0.8 * most)!
  const [left, middle, right] = [correlation[peak - 1], correlation[peak], correlation[peak + 1]]
  return peak + (0.5 * (left - right)) / (left - 2 * middle + right)
}

function blockMoments({ cc, ml }: DogAxes, step: number): StepMoment[] {
  const lag = Math.floor(step)
  const share = step - lag
  const pairs = cc.length - lag - 1
  const out: StepMoment[] = []
  for (let block = 0; block < BLOCKS; block++) {
    let h11 = 0
    let h12 = 0
    let h22 = 0
    const end = Math.floor(((block + 1) * pairs) / BLOCKS)
    for (let i = Math.floor((block * pairs) / BLOCKS); i < end; i++) {
      const nextCc = cc[i + lag] + share * (cc[i + lag + 1] - cc[i + lag])
      const nextMl = ml[i + lag] + share * (ml[i + lag + 1] - ml[i + lag])
      h11 += cc[i] * nextCc
      h12 += (cc[i] * nextMl + ml[i] * nextCc) / 2
      h22 += ml[i] * nextMl
    }
    out.push({ h11, h12, h22 })
  }
  return out
}

function summed(moments: readonly StepMoment[]): StepMoment {
  return moments.reduce(
    (sum, { h11, h12, h22 }) => ({ h11: sum.h11 + h11, h12: sum.h12 + h12, h22: sum.h22 + h22 }),
    { h11: 0, h12: 0, h22: 0 },
  )
}

/** Angle of the first eigenvector from h1 towards h2, rad, within a half turn. */
function lineAngle({ h11, h12, h22 }: StepMoment): number {
  return 0.5 * Math.atan2(2 * h12, h11 - h22)
}

/** Standard error of the line's angle by leaving out one block at a time (jackknife), rad. */
function jackknifeError(moments: readonly StepMoment[]): number {
  const n = moments.length
  const all = lineAngle(summed(moments))
  let squares = 0
  for (let left = 0; left < n; left++) {
    const angle = lineAngle(summed(moments.filter((_, i) => i !== left)))
    // A line turned by a half turn is the same line.
    const difference = angle - all - Math.PI * Math.round((angle - all) / Math.PI)
    squares += difference * difference
  }
  return Math.sqrt(((n - 1) / n) * squares)
}

/** Mean speed along the line over all walks, m/s, the speed at both ends of each taken as equal and as rest. */
function meanSpeed(pieces: readonly DogAxes[], angle: number, rateHz: number): number {
  let distance = 0
  let seconds = 0
  for (const { cc, ml } of pieces) {
    let speed = 0
    for (let i = 0; i < cc.length; i++) {
      speed += (Math.cos(angle) * cc[i] + Math.sin(angle) * ml[i]) / rateHz
      distance += speed / rateHz
    }
    seconds += cc.length / rateHz
  }
  return distance / seconds
}
