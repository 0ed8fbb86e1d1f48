import { findStance } from '#signal/hold/stance'
import type { MountShift } from '#signal/hold/mount-shift'
import type { Reference } from '#signal/hold/reference'
import type { HoldSettings } from '#signal/hold/settings'
import { resolveMount } from '#signal/mount/mount'
import { angleDeg } from '#signal/mount/rotation'
import { endOf, findHolds, ticksOf } from '#signal/session/find-holds'
import type { FoundHold } from '#signal/session/find-holds'
import { randomSession } from '#signal/simulator/population'
import type { RandomSession } from '#signal/simulator/population'
import type { SimulationTruth } from '#signal/simulator/truth'
import { uniformStretches } from '#signal/trace/resample'
import type { Mark, Trace } from '#signal/trace/trace'
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
  const { durationS, reference, shift, found } = detect(trace, withMarks ? trace.marks : [], settings)
  const stands = cutAt(truth.stableIntervals, [...losses(trace), ...slipSpan(truth)])
  return {
    seed,
    population,
    found,
    truth: stands.filter(({ fromS, toS }) => toS - fromS >= MIN_TRUE_S),
    also: [...stands.filter(({ fromS, toS }) => toS - fromS < MIN_TRUE_S), ...truth.lies],
    durationS,
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
