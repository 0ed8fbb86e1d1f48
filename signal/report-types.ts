import type { StreamClock } from './clock/stream-clock.ts'
import type { LeftOutHold, UnusedCorrection } from './session/hold-edits.ts'
import type { LookAlike } from './tremor/tremor.ts'

/**
 * The result of `analyseTrace`, printed by `analyse --json` and served as the session report.
 * SI units throughout (m/s², m²/s⁴ for ellipse area and power, m²/s⁵ for jerk, s, Hz).
 * A measure the recording does not support is null, and `reason` in the same object says why.
 */
export interface Report {
  version: string
  trace: {
    file: string | null
    samples: number
    rateHz: number
    durationS: number
    unit: string
    startedAt: string | null
  }
  quality: QualityReport
  mount: MountReport
  holds: HoldReport[]
  session: SessionReport
}

export interface QualityReport {
  verdict: 'good' | 'usable' | 'poor'
  /** Sentences in words; empty when there is nothing to say. */
  reasons: string[]
  gaps: { fromS: number; toS: number }[]
  /** Samples per second actually delivered inside gap-free stretches. */
  effectiveRateHz: number
  jitterSdS: number
  jitterMaxS: number
  clippedSamples: number
  flatSamples: number
  duplicates: number
  unusedSamples: number
  /** Share of the expected samples that arrived, 0..1. */
  coverage: number
  /** White noise per axis in m/s² RMS, estimated from the quietest second; null when too short. */
  noiseFloorMs2: number | null
  /** Smallest step of the acceleration, m/s², when the sensor states it. */
  resolutionMs2?: number
  /** What the times of a live stream were taken from; missing for a trace that brought its own. */
  clock?: StreamClock
}

export interface MountReport {
  source: 'identity' | 'declared' | 'auto'
  /** Mean |a| of the reference stand, m/s². */
  gravity: number
  /** Rows are CC, ML, DV in sensor axes: dog = rotation · sensor. */
  rotation: [Row3, Row3, Row3]
  headingResolved: boolean
  /** Largest angle between gravity in later quiet stretches and in the reference stand, degrees. */
  shiftDeg: number | null
  /** Seconds from start at which the harness was found to have moved; what follows is aligned anew. */
  shiftedAtS: number | null
  /** The stretch that served as reference, seconds from start; null when none was found. */
  reference: { fromS: number; toS: number; basis: 'quiet-stand marks' | 'quietest stretch' } | null
  reason?: string
}

export type Row3 = [number, number, number]

export interface HoldReport {
  fromS: number
  toS: number
  durationS: number
  /** Part of the hold with hands off; null when nobody marked support. */
  handsOffS: number | null
  /** The quiet stand on the floor is measured like a hold but is no part of the exercise. */
  role: 'exercise' | 'quiet stand'
  endedBy: HoldEnd
  /** A person set its bounds; what ended it is then 'interval' unless it ends where a detected hold did. */
  setBy?: 'person'
  sway: SwayReport
  tremor: { bands: BandReport[] }
  reason?: string
}

export type HoldEnd = 'step' | 'tilt' | 'signal lost' | 'end of recording' | 'interval'

export interface SwayReport {
  rms: { ml: number | null; cc: number | null; dv: number; horizontal: number; reason?: string }
  range: { ml: number | null; cc: number | null; reason?: string }
  path: number
  pathRate: number
  jerk: number
  /** 95 % prediction ellipse, exact F, ddof 1 (Chew 1966). `n` is the sample count behind it. */
  ellipse: {
    area: number
    major: number
    minor: number
    angleDeg: number | null
    n: number
    convention: '95% prediction ellipse (exact F)'
    reason?: string
  }
  spectral: SwaySpectralReport
  /** 95 % interval of the horizontal RMS by moving-block bootstrap. */
  rmsInterval: [number, number] | null
  /** Horizontal RMS over that of the floor reference of the same recording. */
  steadinessRatio: number | null
  /** Sway as angles, for recordings with a gyroscope. */
  degrees?: SwayDegreesReport
  reason?: string
}

/** RMS about the mean of the trunk's pitch, roll and their vector sum over the longest gap-free piece, degrees. */
export interface SwayDegreesReport {
  pitchRmsDeg: number | null
  rollRmsDeg: number | null
  tiltRmsDeg: number
  reason?: string
}

export interface AxisPair {
  ml: number | null
  cc: number | null
}

export interface SwaySpectralReport {
  totalPower: AxisPair
  f50Hz: AxisPair
  f95Hz: AxisPair
  centroidHz: AxisPair
  dispersion: AxisPair
  reason?: string
}

export interface BandReport {
  name: string
  fromHz: number
  toHz: number
  power: number | null
  rms: number | null
  peakHz: number | null
  peakWidthHz: number | null
  distinct: boolean
  lookalike: LookAlike | null
  reason?: string
}

export interface RepetitionReport {
  fromS: number
  toS: number
  holdS: number
  handsOffS: number | null
  /** Horizontal RMS over all holds of the repetition, m/s²; null when it holds no hold. */
  swayRms: number | null
  reason?: string
}

/**
 * What may be compared between recordings: medians over fixed 5 s pieces of hold time, since path,
 * jerk and spectra depend on length. `weak` when fewer than two pieces stand behind them.
 */
export interface ComparableReport {
  pieceS: number
  pieces: number
  basis: 'hands-off hold time' | 'all hold time'
  swayRms: number | null
  pathRate: number | null
  jerk: number | null
  tremorRms: number | null
  /**
   * `swayRms` over the sway of the marked floor quiet stand of the same recording, 5 s pieces both: the idea of
   * the Romberg quotient. Reports made before it was measured lack it.
   */
  steadinessRatio?: number | null
  weak: boolean
  reason?: string
}

export interface SessionReport {
  handsOffHoldS: number | null
  bestHoldS: number | null
  /** Share of the hold time with hands on, 0..1. */
  supportShare: number | null
  repetitions: RepetitionReport[]
  repetitionBasis: 'marks' | 'pauses between holds'
  fatigue: { slopePerRepetition: number | null; lastOverFirst: number | null; reason?: string }
  comparable: ComparableReport
  /** Each limit that was passed, in words; empty when none was. */
  planWarnings: string[]
  /** Holds that count for nothing because a person left them out; missing when there are none. */
  leftOutHolds?: LeftOutHold[]
  /** People's corrections that did not fit this recording, and why; missing when there are none. */
  unusedCorrections?: UnusedCorrection[]
  /** Whose limits those were: `plan version 3, set by …`, or common practice. Reports before version 3 lack it. */
  limitsBasis?: string
  reason?: string
}
