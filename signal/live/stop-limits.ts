/** Limits of the live stop cue; null switches a reason off. The plan sets them, within common practice. */
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
  /** `plan version 3`, or that no plan was given: shown beside every cue. */
  readonly basis: string
}
