/**
 * Limits of a session, for the live stop cue and for the report's warnings; null leaves a limit out. The
 * plan sets them. A limit that was passed is a sign to stop; one that was not says nothing.
 */
export interface StopLimits {
  /** Longest session, s of the stream. */
  readonly sessionCapS: number | null
  /** Repetitions that may be done; the cue comes when another one starts. */
  readonly maxRepetitions: number | null
  /** A hold swaying more than this many times the first one. */
  readonly swayRatio: number | null
  /** A hold that ended shorter than this share of the first one. */
  readonly holdRatio: number | null
  /** Rise of the hands-on share of a repetition over the first one, 0..1. */
  readonly supportRise: number | null
  /** `plan version 3, set by Rowan Vale`, or that no plan was given: shown beside every cue. */
  readonly basis: string
}

/**
 * Used when a session follows no plan: sessions of up to about 5 min of a few repetitions, less when the
 * dog tires (common practice, no source).
 */
export const COMMON_PRACTICE_STOP_LIMITS: StopLimits = {
  sessionCapS: 300,
  maxRepetitions: 5,
  swayRatio: 1.5,
  holdRatio: 0.5,
  supportRise: 0.25,
  basis: 'common practice, no plan given',
}
