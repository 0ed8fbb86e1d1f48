import type { Analysis } from '../report.ts'
import type { DogStretch } from '../session/dog-stretch.ts'
import { endOf } from '../session/find-holds.ts'
import type { DogAxes } from '../sway/dog-axes.ts'
import { DEFAULT_BANDS, MIN_RATE_PER_BAND_EDGE } from '../constants.ts'
import { bandTimeCourse } from '../tremor/time-course.ts'

/** Smallest and largest value per bucket; null where no sample lies in it. */
export interface Envelope {
  readonly min: (number | null)[]
  readonly max: (number | null)[]
}

/** The whole recording at drawing resolution, dog axes without gravity, m/s². */
export interface TimelineData {
  readonly durationS: number
  readonly rateHz: number
  readonly headingResolved: boolean
  readonly bucketS: number
  readonly overview: { readonly ml: Envelope; readonly cc: Envelope; readonly dv: Envelope }
  readonly course: {
    readonly stepS: number
    readonly swayMs2: (number | null)[]
    readonly tremorMs2: (number | null)[]
  }
  readonly gaps: { fromS: number; toS: number }[]
}

const COURSE_STEP_S = 0.5
/** Half width of the window behind a point of the sway course, s. */
const COURSE_HALF_S = 1

/**
 * Reduces a recording to at most `maxBuckets` min/max buckets per axis, and the course of sway
 * (horizontal RMS over 2 s, about its own mean) and tremor-band RMS each 0.5 s.
 */
export function timelineOf(analysis: Analysis, maxBuckets: number): TimelineData {
  const { report, uniform, stretches } = analysis
  const durationS = endOf(uniform)
  const buckets = Math.max(1, Math.min(maxBuckets, Math.ceil(durationS * uniform.rateHz)))
  const bucketS = durationS / buckets
  const gravity = report.mount.gravity
  const envelope = (axis: keyof DogAxes, offset: number) =>
    envelopeOf(stretches, uniform.rateHz, axis, buckets, bucketS, offset)
  return {
    durationS,
    rateHz: uniform.rateHz,
    headingResolved: report.mount.headingResolved,
    bucketS,
    overview: { ml: envelope('ml', 0), cc: envelope('cc', 0), dv: envelope('dv', gravity) },
    course: {
      stepS: COURSE_STEP_S,
      swayMs2: swayCourse(stretches, uniform.rateHz, durationS),
      tremorMs2: tremorCourse(analysis, durationS),
    },
    gaps: report.quality.gaps,
  }
}

function envelopeOf(
  stretches: readonly DogStretch[],
  rateHz: number,
  axis: keyof DogAxes,
  buckets: number,
  bucketS: number,
  offset: number,
): Envelope {
  const min = new Float64Array(buckets).fill(Number.POSITIVE_INFINITY)
  const max = new Float64Array(buckets).fill(Number.NEGATIVE_INFINITY)
  for (const stretch of stretches) {
    const values = stretch.raw[axis]
    for (let i = 0; i < values.length; i++) {
      const bucket = Math.min(buckets - 1, Math.floor((stretch.startS + i / rateHz) / bucketS))
      const value = values[i] - offset
      if (value < min[bucket]) min[bucket] = value
      if (value > max[bucket]) max[bucket] = value
    }
  }
  return { min: Array.from(min, finiteOrNull), max: Array.from(max, finiteOrNull) }
}

function swayCourse(stretches: readonly DogStretch[], rateHz: number, durationS: number): (number | null)[] {
  const course = new Array<number | null>(Math.floor(durationS / COURSE_STEP_S)).fill(null)
  const half = Math.round(COURSE_HALF_S * rateHz)
  for (const { startS, lowPassed } of stretches) {
    const n = lowPassed.ml.length
    const ml = runningSums(lowPassed.ml)
    const cc = runningSums(lowPassed.cc)
    for (let k = Math.ceil(startS / COURSE_STEP_S); k < course.length; k++) {
      const centre = Math.round((k * COURSE_STEP_S - startS) * rateHz)
      const from = centre - half
      const to = centre + half
      if (from < 0) continue
      if (to > n) break
      course[k] = Math.sqrt(varianceOf(ml, from, to) + varianceOf(cc, from, to))
    }
  }
  return course
}

function tremorCourse(analysis: Analysis, durationS: number): (number | null)[] {
  const { uniform, stretches, report } = analysis
  const course = new Array<number | null>(Math.floor(durationS / COURSE_STEP_S)).fill(null)
  const [band] = DEFAULT_BANDS
  if (report.quality.effectiveRateHz < MIN_RATE_PER_BAND_EDGE * band.toHz * 0.99) return course
  for (const { startS, raw } of stretches) {
    const { tS, rms } = bandTimeCourse(raw, uniform.rateHz, band.fromHz, band.toHz)
    for (let i = 0; i < tS.length; i++) {
      const k = Math.round((startS + tS[i]) / COURSE_STEP_S)
      if (k < course.length) course[k] = rms[i]
    }
  }
  return course
}

/** Running sums of values and squares, one longer than the input. */
function runningSums(x: Float64Array): { sum: Float64Array; squares: Float64Array } {
  const sum = new Float64Array(x.length + 1)
  const squares = new Float64Array(x.length + 1)
  for (let i = 0; i < x.length; i++) {
    sum[i + 1] = sum[i] + x[i]
    squares[i + 1] = squares[i] + x[i] * x[i]
  }
  return { sum, squares }
}

function varianceOf({ sum, squares }: ReturnType<typeof runningSums>, from: number, to: number): number {
  const n = to - from
  const mean = (sum[to] - sum[from]) / n
  return Math.max(0, (squares[to] - squares[from]) / n - mean * mean)
}

function finiteOrNull(value: number): number | null {
  return Number.isFinite(value) ? value : null
}
