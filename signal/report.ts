import { ANALYSIS_VERSION, DEFAULT_BANDS } from './constants.ts'
import type { Band } from './constants.ts'
import { fatigueOver } from './fatigue/fatigue.ts'
import type { MountShift } from './hold/mount-shift.ts'
import { findStance } from './hold/stance.ts'
import { quietCandidates } from './hold/reference.ts'
import type { Reference } from './hold/reference.ts'
import type { MotionTicks } from './hold/motion-ticks.ts'
import type { HoldSettings } from './hold/settings.ts'
import { gridRateHz } from './clock/grid-rate.ts'
import type { StreamClock } from './clock/stream-clock.ts'
import { headingFromWalk, walkSpans } from './mount/heading.ts'
import { resolveMount } from './mount/mount.ts'
import type { Mount, MountOption } from './mount/mount.ts'
import { applyCalibration, autoCalibrate } from './mount/calibration.ts'
import { angleDeg, norm } from './mount/rotation.ts'
import { COMMON_PRACTICE_STOP_LIMITS } from './live/stop-limits.ts'
import type { StopLimits } from './live/stop-limits.ts'
import type { HoldReport, MountReport, Report, Row3, SessionReport } from './report-types.ts'
import { checkedInterval, OptionError } from './session/checked-interval.ts'
import { comparableMeasures } from './session/comparable.ts'
import type { ComparableInput, ComparableSpan } from './session/comparable.ts'
import { piecesOf, toDogStretches } from './session/dog-stretch.ts'
import type { DogStretch } from './session/dog-stretch.ts'
import { endOf, findHolds, ticksOf } from './session/find-holds.ts'
import { correctHolds } from './session/hold-edits.ts'
import type { CorrectedHolds, HoldCorrection } from './session/hold-edits.ts'
import { holdReport } from './session/hold-report.ts'
import { measurablePieces, piecesRms } from './session/hold-sway.ts'
import { planWarnings } from './session/plan-warnings.ts'
import { PostureSway } from './session/posture-sway.ts'
import { withSteadiness } from './session/steadiness.ts'
import { groupRepetitions } from './session/repetitions.ts'
import type { CountedSway } from './session/repetitions.ts'
import { assignRoles } from './session/roles.ts'
import { handsOffWithin, knownWithin, supportOf, totalS } from './session/support.ts'
import type { Span, Support } from './session/support.ts'
import { traceQuality } from './trace/quality.ts'
import { uniformStretches } from './trace/resample.ts'
import { TraceError } from './trace/trace-error.ts'
import type { Trace, UniformTrace } from './trace/trace.ts'

export { OptionError } from './session/checked-interval.ts'

/** Hands-off spans shorter than this say nothing about sway, s (our choice, as for a hold). */
const MIN_COUNTED_S = 1

/** A trace and what its reader found out about it; the result of `parseTrace` fits. */
export interface AnalysisInput {
  readonly trace: Trace
  readonly unit: string
  readonly stampResolutionS?: number
  readonly duplicates?: number
  readonly unusedSamples?: number
  /** Smallest step of the acceleration as the sensor states it, m/s². */
  readonly resolutionMs2?: number | null
  /** Sentences of the reader on what it assumed; they join the quality reasons. */
  readonly notes?: readonly string[]
  readonly file?: string
  /** For samples stamped by index ÷ rate: the clock they were stamped by. */
  readonly clock?: StreamClock
}

export interface AnalyseOptions {
  /** Rate of the even grid, Hz; default: the nearest of 25, 50, 52, 100, 104, 200, or see `gridRateHz`. */
  readonly rateHz?: number
  readonly mount?: MountOption
  /** Measures exactly [from, to) seconds as one hold, without detection. */
  readonly interval?: readonly [number, number]
  /**
   * People's corrections of the detected holds; roles, repetitions, comparisons, fatigue and warnings follow.
   * Those that do not fit are named in `session.unusedCorrections`. Not together with `interval`.
   */
  readonly holdEdits?: readonly HoldCorrection[]
  readonly bands?: readonly Band[]
  readonly settings?: HoldSettings
  /** What the plan allows, for `planWarnings`; default common practice. */
  readonly limits?: StopLimits
  /**
   * Corrects gain and offset of the accelerometer from the recording itself (van Hees et al. 2014), when it
   * holds the sensor still in enough positions; otherwise nothing is changed and the report says why.
   */
  readonly calibrate?: boolean
}

/** The trace on its even grid, calibrated when that was asked for and could be done. */
function evenTrace(
  input: AnalysisInput,
  options: AnalyseOptions,
): { uniform: UniformTrace; notes: string[] } {
  const { calibrate } = options
  const rateHz = options.rateHz ?? gridRateHz(input)
  const uniform = uniformStretches(input.trace, { rateHz, stampResolutionS: input.stampResolutionS })
  if (!calibrate) return { uniform, notes: [] }
  const { calibration, reason } = autoCalibrate(uniform)
  if (!calibration) return { uniform, notes: [`Not calibrated: ${reason}.`] }
  const stretches = uniform.stretches.map((s) => ({ ...s, acc: applyCalibration(s.acc, calibration) }))
  const notes = ['Gain and offset of the accelerometer were corrected from its still stretches.']
  return { uniform: { ...uniform, stretches }, notes }
}

/** The report and what it was made from, for the pictures of the session review. */
export interface Analysis {
  readonly report: Report
  readonly uniform: UniformTrace
  readonly stretches: readonly DogStretch[]
  /** The stretches in the axes that hold for a span: others after the harness moved. */
  readonly stretchesOf: (span: Span) => readonly DogStretch[]
  readonly reference: Reference | null
  readonly ticks: MotionTicks
}

/** Axes taken as given that gravity contradicts by more than this are reported, degrees (our choice). */
const GIVEN_TILT_LIMIT_DEG = 45

/** `analyse` without the intermediate results. */
export function analyseTrace(input: AnalysisInput, options: AnalyseOptions = {}): Report {
  return analyse(input, options).report
}

/**
 * Measures a whole recording: quality, mount, holds, sway and tremor per hold, the session.
 * Time and memory grow linearly with the recording. Poor data is a result, not an error.
 *
 * @throws {OptionError} for an interval outside the recording or of fewer than 3 samples, or one together with
 * corrected holds
 * @throws {TraceError} NO_SIGNAL when no gap-free stretch of 0.1 s exists, or gravity is exactly zero
 * and the mount has to be found from it
 */
export function analyse(input: AnalysisInput, options: AnalyseOptions = {}): Analysis {
  const { trace } = input
  const bands = options.bands ?? DEFAULT_BANDS
  const { holdEdits = [] } = options
  if (options.interval && holdEdits.length > 0) {
    throw new OptionError('an interval measures exactly itself as the one hold: give either it or holdEdits')
  }
  const { uniform, notes } = evenTrace(input, options)
  if (uniform.stretches.length === 0) {
    throw new TraceError(
      'NO_SIGNAL',
      'the trace holds no gap-free stretch of 0.1 s',
      'Check the time column: as it stands, every few samples are followed by a gap.',
    )
  }
  const endS = endOf(uniform)
  const ticks = ticksOf(uniform)
  const { reference, shift } = findStance(ticks, trace.marks)
  const gravity: Row3 = reference ? [...reference.gravity] : ticks.meanRaw()
  const mountOption = options.mount ?? 'auto'
  if (mountOption !== 'identity' && !(norm(gravity) > 0)) {
    throw new TraceError(
      'NO_SIGNAL',
      'the acceleration averages to exactly zero, so nothing shows which way is up',
      'Check that the sensor was on, and export its data with gravity.',
    )
  }
  const walked =
    mountOption === 'auto' ? headingFromWalk(uniform, gravity, walkSpans(trace.marks)) : undefined
  const mount = resolveMount(mountOption, gravity, walked)
  const stretches = toDogStretches(uniform, mount.rotation)
  const moved = shift && {
    atS: shift.atS,
    stretches: toDogStretches(uniform, resolveMount(mountOption, shift.reference.gravity, walked).rotation),
  }
  const stretchesOf = (span: Span) => (moved && span.fromS >= moved.atS ? moved.stretches : stretches)
  const quality = traceQuality(trace, {
    stampResolutionS: input.stampResolutionS ?? 0,
    duplicates: input.duplicates ?? 0,
    unusedSamples: input.unusedSamples ?? 0,
    resolutionMs2: input.resolutionMs2,
    bandEdgesHz: bands.map((band) => band.toHz),
  })
  const support = supportOf(trace.marks, endS)
  const context = {
    rateHz: uniform.rateHz,
    sourceRateHz: trace.rateHz,
    headingResolved: mount.headingResolved,
    noiseFloorMs2: quality.noiseFloorMs2,
    resolutionMs2: quality.resolutionMs2 ?? null,
    floorSwayMs2: floorSway(reference, stretches, uniform.rateHz),
    bands,
    support,
  }
  const posture = new PostureSway(stretches, uniform.rateHz, mount.headingResolved, reference)
  const postureAfterShift =
    moved && new PostureSway(moved.stretches, uniform.rateHz, mount.headingResolved, reference)
  const found = options.interval
    ? [checkedInterval(options.interval, endS, uniform.rateHz)]
    : reference
      ? findHolds(ticks, reference, endS, options.settings, shift)
      : []
  const corrected = correctHolds(found, holdEdits, {
    endS,
    obstacle: (span) => {
      // Where the detector itself goes on across the moment, its moment is not that sharp.
      if (moved && spans(span, moved.atS) && !found.some((hold) => spans(hold, moved.atS))) {
        return `the harness moved within it, at ${moved.atS.toFixed(1)} s`
      }
      const measurable = measurablePieces(piecesOf(stretchesOf(span), uniform.rateHz, span), uniform.rateHz)
      return measurable.length > 0 ? null : 'no signal was recorded in it'
    },
  })
  const holds = corrected.holds.flatMap((hold) =>
    holdReport(hold, piecesOf(stretchesOf(hold), uniform.rateHz, hold), {
      ...context,
      posture: (moved && hold.fromS >= moved.atS && postureAfterShift) || posture,
    }),
  )
  if (!options.interval) assignRoles(holds, trace.marks, reference, corrected.leftOut.length)
  if (options.interval && holds.length === 0) {
    throw new TraceError(
      'NO_SIGNAL',
      `the interval ${options.interval.join(':')} s holds no signal`,
      'Choose an interval outside the gaps of the recording.',
    )
  }
  const report: Report = {
    version: ANALYSIS_VERSION,
    trace: {
      file: input.file ?? null,
      samples: trace.t.length,
      rateHz: uniform.rateHz,
      durationS: endS,
      unit: input.unit,
      startedAt: trace.startedAtUs === null ? null : isoTime(trace.startedAtUs),
    },
    quality: {
      ...quality,
      reasons: [...quality.reasons, ...shiftReasons(shift, mountOption), ...notes, ...(input.notes ?? [])],
      ...(input.clock && { clock: input.clock }),
    },
    mount: mountReport(mount, gravity, reference, ticks, shift),
    holds,
    session: sessionReport(
      holds,
      corrected,
      trace,
      endS,
      support,
      options.limits ?? COMMON_PRACTICE_STOP_LIMITS,
      {
        stretchesOf,
        rateHz: uniform.rateHz,
        sourceRateHz: trace.rateHz,
        tremorBand: bands[0],
        reference,
      },
    ),
  }
  return { report, uniform, stretches, stretchesOf, reference, ticks }
}

function spans({ fromS, toS }: Span, atS: number): boolean {
  return fromS < atS && toS > atS
}

/** Horizontal sway RMS of the marked floor quiet stand; only a marked one is surely on the floor. */
function floorSway(
  reference: Reference | null,
  stretches: readonly DogStretch[],
  rateHz: number,
): number | null {
  if (reference?.basis !== 'quiet-stand marks') return null
  const pieces = measurablePieces(piecesOf(stretches, rateHz, reference), rateHz)
  if (pieces.length === 0) return null
  const rms = piecesRms(pieces)
  return rms > 0 ? rms : null
}

function shiftReasons(shift: MountShift | null, mount: MountOption): string[] {
  if (!shift) return []
  const what = `The sensor turned by ${shift.angleDeg.toFixed(0)}° on the dog at about ${shift.atS.toFixed(0)} s`
  if (mount === 'identity')
    return [`${what}; the axes were taken as given all the same, so ML, CC and DV mix after it.`]
  return [`${what}; what follows was aligned anew. Check the harness, and that the dog was not sitting.`]
}

function mountReport(
  mount: Mount,
  gravity: Row3,
  reference: Reference | null,
  ticks: MotionTicks,
  shift: MountShift | null,
): MountReport {
  const tiltDeg = mount.source === 'identity' ? angleDeg(gravity, [0, 0, 1]) : 0
  const shiftDeg = shift ? shift.angleDeg : reference && lateTiltDeg(reference, ticks)
  const reasons = [
    mount.reason,
    tiltDeg > GIVEN_TILT_LIMIT_DEG
      ? `the axes were taken as given, but gravity points ${tiltDeg.toFixed(0)}° away from DV`
      : undefined,
    reference ? undefined : 'no quiet stretch of 5 s found: gravity is the mean of all',
    reference && shiftDeg === null ? 'no quiet stretch of 5 s in which to look for a shift' : undefined,
  ]
  const reason = reasons.filter((r) => r !== undefined).join('; ')
  return {
    source: mount.source,
    gravity: norm(gravity),
    rotation: mount.rotation.map((row) => [...row]) as MountReport['rotation'],
    headingResolved: mount.headingResolved,
    shiftDeg,
    shiftedAtS: shift ? shift.atS : null,
    reference: reference && { fromS: reference.fromS, toS: reference.toS, basis: reference.basis },
    ...(reason ? { reason } : {}),
  }
}

/**
 * How far gravity in the last quiet stretches lies from the reference, degrees: the median over
 * the last fifth of them (at least one), so that one bad stretch does not decide.
 */
function lateTiltDeg(reference: Reference, ticks: MotionTicks): number | null {
  const quiet = quietCandidates(ticks)
  if (quiet.length === 0) return null
  const last = quiet.slice(-Math.max(1, Math.floor(quiet.length / 5)))
  const angles = last.map((stretch) => angleDeg(stretch.up, reference.gravity)).sort((a, b) => a - b)
  return angles[angles.length >> 1]
}

function sessionReport(
  allHolds: readonly HoldReport[],
  { leftOut, unused }: CorrectedHolds,
  trace: Trace,
  endS: number,
  support: Support,
  limits: StopLimits,
  measure: Omit<ComparableInput, 'spans' | 'basis'> & { readonly reference: Reference | null },
): SessionReport {
  const holds = allHolds.filter((hold) => hold.role === 'exercise')
  const { repetitions, basis } = groupRepetitions(
    holds,
    trace.marks,
    endS,
    support.known ? (hold) => handsOffSway(hold, support, measure) : undefined,
  )
  const handsOffSpans = holds.flatMap((hold) => handsOffWithin(support, hold))
  const knownHoldS = totalS(holds.flatMap((hold) => knownWithin(support, hold) ?? []))
  const handsOffS = totalS(handsOffSpans)
  const longest = support.known
    ? handsOffSpans.map((span) => span.toS - span.fromS)
    : holds.map((hold) => hold.durationS)
  const reasons: string[] = []
  if (!support.known) {
    reasons.push('nobody marked hands on or off: hands-off time is unknown, the best hold counts any hold')
  }
  if (holds.length === 0) reasons.push('no hold of the exercise was found')
  else if (longest.length === 0) reasons.push('no hold of the exercise was hands-off')
  return {
    handsOffHoldS: support.known ? handsOffS : null,
    bestHoldS: longest.length > 0 ? Math.max(...longest) : null,
    supportShare: knownHoldS > 0 ? 1 - handsOffS / knownHoldS : null,
    repetitions,
    repetitionBasis: basis,
    fatigue: fatigueOver(repetitions),
    comparable: withSteadiness(
      comparableMeasures({
        ...measure,
        spans: holds.flatMap((hold) => countedSpans(hold, support)),
        basis: support.known ? 'hands-off hold time' : 'all hold time',
      }),
      measure.reference,
      measure,
    ),
    planWarnings: planWarnings(endS, holds, repetitions, limits),
    limitsBasis: limits.basis,
    ...(leftOut.length > 0 && { leftOutHolds: [...leftOut] }),
    ...(unused.length > 0 && { unusedCorrections: [...unused] }),
    ...(reasons.length > 0 ? { reason: reasons.join('; ') } : {}),
  }
}

/** What of a hold counts in comparisons: its hands-off parts, or all of it when nobody marked support. */
function countedSpans(hold: HoldReport, support: Support): ComparableSpan[] {
  const lookalike = hold.tremor.bands.map((band) => band.lookalike).find((flag) => flag !== null)
  return (support.known ? handsOffWithin(support, hold) : [hold]).map(({ fromS, toS }) => ({
    fromS,
    toS,
    lookalike,
  }))
}

function handsOffSway(
  hold: HoldReport,
  support: Support,
  { stretchesOf, rateHz }: Pick<ComparableInput, 'stretchesOf' | 'rateHz'>,
): CountedSway {
  let squares = 0
  let seconds = 0
  for (const span of handsOffWithin(support, hold)) {
    if (span.toS - span.fromS < MIN_COUNTED_S) continue
    const pieces = measurablePieces(piecesOf(stretchesOf(span), rateHz, span), rateHz)
    if (pieces.length === 0) continue
    squares += piecesRms(pieces) ** 2 * (span.toS - span.fromS)
    seconds += span.toS - span.fromS
  }
  return { squares, seconds }
}

function isoTime(us: number): string {
  const ms = Math.floor(us / 1000)
  const micros = String(us - ms * 1000).padStart(3, '0')
  return new Date(ms).toISOString().replace('Z', micros === '000' ? 'Z' : `${micros}Z`)
}
