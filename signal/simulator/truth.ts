import type { Trace } from '../trace/trace.ts'
import type { EpisodeKind, Rotation, Support, Surface } from './script.ts'

export interface SimulatedSession {
  readonly trace: Trace
  readonly truth: SimulationTruth
}

/** Half-open, seconds from the first sample of the trace. */
export interface TimeSpan {
  readonly fromS: number
  readonly toS: number
}

/** What really happened, on the time axis of the trace. */
export interface SimulationTruth {
  /** Every unbroken stand between two transients, on the floor (quiet stands) and on the surface. */
  readonly stableIntervals: readonly StableInterval[]
  /** The parts of stable intervals on a surface (or floor holds) with constant support. */
  readonly holds: readonly HoldTruth[]
  readonly tremor: readonly RhythmTruth[]
  readonly pantings: readonly RhythmTruth[]
  readonly tailWags: readonly RhythmTruth[]
  readonly sits: readonly (TimeSpan & { readonly pitchDeg: number })[]
  readonly lies: readonly TimeSpan[]
  readonly walks: readonly TimeSpan[]
  readonly rests: readonly TimeSpan[]
  readonly handlings: readonly TimeSpan[]
  /** Corrective steps, where the envelope is above 5 % of its peak. */
  readonly steps: readonly (TimeSpan & { readonly peakMs2: number })[]
  readonly repetitions: readonly TimeSpan[]
  /** dog = mountRotation · sensor, before any slip. */
  readonly mountRotation: Rotation
  /** Where the mount slipped and by which angle, when it did. */
  readonly slip: { readonly atS: number; readonly angleDeg: number } | null
  /** Samples per second really taken. */
  readonly rateHz: number
  /** Samples taken but not in the trace. */
  readonly lostSamples: number
}

export interface RhythmTruth extends TimeSpan {
  readonly frequencyHz: number
  /** RMS of the three axes together, m/s². */
  readonly rmsMs2: number
}

/** The episode that ended a stand; `support` when only the hands changed, `end` when the session ended. */
export type EndedBy = Exclude<EpisodeKind, 'hold' | 'quiet-stand'> | 'support' | 'end'

/**
 * Horizontal sway of the noise-free specific force in dog axes by the project's definition: mean
 * removed, low-passed at 3.5 Hz over the whole session, own mean of the interval removed, RMS, m/s².
 * The zero-phase low-pass spreads a step over about 0.2 s on both sides, so short intervals beside
 * strong steps read some per cent more than the dog's sway alone.
 */
export interface TrueSway {
  readonly swayRmsHorizontal: number
  readonly swayRmsCc: number
  readonly swayRmsMl: number
}

/** From the end of the transient before to the start of the one after (envelope at 5 % of its peak). */
export interface StableInterval extends TimeSpan, TrueSway {
  readonly place: 'quiet-stand' | 'hold'
  readonly surface: Surface
  readonly endedBy: EndedBy
}

export interface HoldTruth extends TimeSpan, TrueSway {
  readonly support: Support
  readonly surface: Surface
  readonly endedBy: EndedBy
  /** Index of the stable interval it is part of. */
  readonly stableInterval: number
}
