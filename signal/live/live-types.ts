import type { HoldEnd } from '../report-types.ts'

/**
 * What the dog is doing, in the detector's words. `waiting` means the floor reference (quiet
 * stand) is not known yet; `no signal` means the newest window misses too many samples to judge.
 */
export type LiveState = 'waiting' | 'moving' | 'steady' | 'no signal'

/** The newest 1 s window of a stream, produced ten times per second of signal. */
export interface LiveWindow {
  /** Hop number k: the window covers [k/10, k/10 + 1) seconds of the stream. */
  readonly index: number
  /** Seconds of the stream at the end of the window. */
  readonly endS: number
  readonly state: LiveState
  /** Seconds the current hold has lasted, refined start included; 0 when there is none. */
  readonly holdS: number
  /** Motion statistic T over that of the entry limit: below 1 enters a hold. Null without a reference. */
  readonly motion: number | null
  /** Angle of the trunk from the reference stance, degrees. */
  readonly tiltDeg: number | null
  /** Sway now: horizontal RMS of the causally low-passed acceleration over the newest 2 s, m/s². */
  readonly swayMs2: number | null
  /** Tremor now: RMS in the tremor band over the newest 2 s, m/s²; null when the rate cannot carry it. */
  readonly tremorMs2: number | null
  /** Share of the window's samples that arrived, 0..1. */
  readonly coverage: number
}

/** A hold as it is known so far: `toS` and `endedBy` are null while it lasts. */
export interface LiveHold {
  /** Counts holds of the stream from 0; the same id is sent again when a hold ends or is extended. */
  readonly id: number
  readonly fromS: number
  readonly toS: number | null
  readonly endedBy: HoldEnd | null
}

/** The floor reference everything else is measured against. */
export interface LiveReference {
  readonly fromS: number
  readonly toS: number
  /** Median over the quiet stand of the same 2 s measure as `LiveWindow.swayMs2`, m/s². */
  readonly swayMs2: number
  /** Mean |a| of the quiet stand, m/s². */
  readonly gravityMs2: number
}

/** A stretch of dog-axis waveform for drawing, evenly spaced, decimated (min 20 Hz). */
export interface LiveStrip {
  readonly fromS: number
  readonly stepS: number
  /** Low-passed ML and CC acceleration in m/s², same length. */
  readonly ml: readonly number[]
  readonly cc: readonly number[]
}

/** Why a stop cue was given. */
export type StopReason = 'session-cap' | 'repetitions' | 'sway' | 'short-hold' | 'support'

/** A limit that was passed: the sign to stop. Given once per reason and reference. */
export interface LiveStop {
  readonly reason: StopReason
  /** Seconds of the stream. */
  readonly atS: number
  /** What was measured and the limit it passed, in the unit of the reason: s, count, ratio, ratio, share. */
  readonly value: number
  readonly limit: number
}
