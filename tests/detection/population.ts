import { findStance } from '#signal/hold/stance'
import type { MountShift } from '#signal/hold/mount-shift'
import type { Reference } from '#signal/hold/reference'
import type { HoldSettings } from '#signal/hold/settings'
import { headingFromWalk, walkSpans } from '#signal/mount/heading'
import { resolveMount } from '#signal/mount/mount'
import { angleDeg, rotate } from '#signal/mount/rotation'
import type { Rotation } from '#signal/mount/rotation'
import { endOf, findHolds, ticksOf } from '#signal/session/find-holds'
import type { FoundHold } from '#signal/session/find-holds'
import { randomSession } from '#signal/simulator/population'
import type { RandomSession } from '#signal/simulator/population'
import type { SimulationTruth } from '#signal/simulator/truth'
import { uniformStretches } from '#signal/trace/resample'
import type { Mark, Trace } from '#signal/trace/trace'
import { overlapS } from './match.ts'
import type { Interval } from './match.ts'

/** Shorter true stands are not asked for. */
export const MIN_TRUE_S = 2
/** Signal missing for longer than this ends a hold by definition, s. */
const LOST_S = 0.25
/** The simulated harness turns within this long when it slips, s. */
const SLIP_S = 0.3

/** One recording as the product sees it, beside what really happened. */
export interface Detection {
  readonly seed: string
  readonly population: RandomSession
  readonly found: readonly FoundHold[]
  /** Stands of at least 2 s, cut at signal losses above 0.25 s and where the harness slips. */
  readonly truth: readonly Interval[]
  /** May be found without being false: shorter stands, and a dog lying still and level. */
  readonly also: readonly Interval[]
  readonly durationS: number
  /** Angle between the true DV and that of the automatic mount, before any slip, degrees; null without a reference. */
  readonly mountErrorDeg: number | null
  /** Angle about DV between the true CC and that of a marked led walk, degrees; null without a walk or result. */
  readonly headingErrorDeg: number | null
  /** Hands-off parts of the true stands of at least 2 s, cut likewise, each with whether a hold was found on it. */
  readonly handsOff: readonly (Interval & { readonly isFound: boolean })[]
  readonly shift: MountShift | null
  readonly reference: Reference | null
}

/** What the analysis finds in a trace, by the same steps as `analyse`. */
export function detect(trace: Trace, marks: readonly Mark[] = trace.marks, settings?: HoldSettings) {
  const uniform = uniformStretches(trace)
  const ticks = ticksOf(uniform)
  const durationS = endOf(uniform)
  const { reference, shift } = findStance(ticks, marks)
  const found = reference ? findHolds(ticks, reference, durationS, settings, shift) : []
  return { uniform, ticks, durationS, reference, shift, found }
}

/** Plays the session of a seed and runs the detection on it, with its marks or without. */
export function detectSeed(seed: string, withMarks: boolean, settings?: HoldSettings): Detection {
  return detectSession(seed, randomSession(seed), withMarks, settings)
}

export function detectSession(
  seed: string,
  population: RandomSession,
  withMarks: boolean,
  settings?: HoldSettings,
): Detection {
  const { trace, truth } = population.session
  const { uniform, durationS, reference, shift, found } = detect(
    trace,
    withMarks ? trace.marks : [],
    settings,
  )
  const cuts = [...losses(trace), ...slipSpan(truth)]
  const stands = cutAt(truth.stableIntervals, cuts)
  const handsOff = cutAt(
    truth.holds.filter(({ support }) => support === 'hands-off'),
    cuts,
  ).filter(isLong)
  const walks = withMarks ? walkSpans(trace.marks) : []
  const heading = reference && headingFromWalk(uniform, reference.gravity, walks).heading
  return {
    seed,
    population,
    found,
    truth: stands.filter(isLong),
    also: [...stands.filter((stand) => !isLong(stand)), ...truth.lies],
    durationS,
    headingErrorDeg: heading && headingError(heading.rotation, truth.mountRotation),
    handsOff: handsOff.map((part) => ({
      ...part,
      isFound: found.some((hold) => overlapS(hold, part) > (part.toS - part.fromS) / 2),
    })),
    mountErrorDeg: reference && mountError(reference.gravity, reference.fromS, truth),
    shift,
    reference,
  }
}

/** A reference taken after a slip cannot tell the mount before it; such recordings give null. */
function mountError(gravity: readonly number[], fromS: number, truth: SimulationTruth): number | null {
  if (truth.slip && fromS >= truth.slip.atS - 5) return null
  const { rotation } = resolveMount('auto', gravity)
  return angleDeg(rotation[2], truth.mountRotation[2])
}

function headingError(found: Rotation, truth: Rotation): number {
  const [cc, ml] = rotate(found, truth[0])
  return (Math.abs(Math.atan2(ml, cc)) * 180) / Math.PI
}

function isLong({ fromS, toS }: Interval): boolean {
  return toS - fromS >= MIN_TRUE_S
}

function slipSpan({ slip }: SimulationTruth): Interval[] {
  return slip ? [{ fromS: slip.atS, toS: slip.atS + SLIP_S }] : []
}

/** Where more than 0.25 s of signal is missing. */
function losses({ t, rateHz }: Trace): Interval[] {
  const out: Interval[] = []
  for (let i = 1; i < t.length; i++) {
    const missingS = t[i] - t[i - 1] - 1 / rateHz
    if (missingS > LOST_S) out.push({ fromS: t[i - 1] + 1 / rateHz, toS: t[i] })
  }
  return out
}

/** The intervals without the cuts, in pieces. */
export function cutAt(intervals: readonly Interval[], cuts: readonly Interval[]): Interval[] {
  let pieces = intervals.map(({ fromS, toS }) => ({ fromS, toS }))
  for (const cut of cuts) {
    pieces = pieces.flatMap((piece) =>
      [
        { fromS: piece.fromS, toS: Math.min(piece.toS, cut.fromS) },
        { fromS: Math.max(piece.fromS, cut.toS), toS: piece.toS },
      ].filter((part) => part.toS > part.fromS),
    )
  }
  return pieces
}
