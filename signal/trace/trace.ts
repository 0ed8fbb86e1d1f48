/** Three simultaneous channels of one sensor, each of shape (n). */
export interface Vector3Series {
  readonly x: Float64Array
  readonly y: Float64Array
  readonly z: Float64Array
}

/**
 * What a person said about an instant of the recording. `support-on` means hands on the dog;
 * until the first support mark of a trace it is unknown who carried the weight.
 */
export type MarkKind =
  | 'support-on'
  | 'support-off'
  | 'repetition-start'
  | 'repetition-end'
  | 'quiet-stand-start'
  | 'quiet-stand-end'
  | 'walk-start'
  | 'walk-end'
  | 'note'

export const MARK_KINDS: readonly MarkKind[] = [
  'support-on',
  'support-off',
  'repetition-start',
  'repetition-end',
  'quiet-stand-start',
  'quiet-stand-end',
  'walk-start',
  'walk-end',
  'note',
]

export interface Mark {
  /** Seconds from the start of the trace. */
  readonly atS: number
  readonly kind: MarkKind
  readonly note?: string
}

/**
 * A recording as it came from the sensor: raw sensor axes, possibly uneven in time.
 * Every sample is finite; times are strictly ascending.
 */
export interface Trace {
  /** Seconds from the first sample, shape (n). */
  readonly t: Float64Array
  /** Specific force in m/s² (at rest +9.81 on the axis that points up), shape (n) each. */
  readonly acc: Vector3Series
  /** Angular rate in rad/s, shape (n) each, when the sensor has a gyroscope. */
  readonly gyr?: Vector3Series
  /** UTC microseconds of the first sample, when the trace tells. */
  readonly startedAtUs: number | null
  /** Nominal samples per second: 1 / median interval unless the trace or the caller said it. */
  readonly rateHz: number
  /** Ascending in time. */
  readonly marks: readonly Mark[]
}

/** A gap-free run of evenly spaced samples, cut from a trace by `uniformStretches`. */
export interface UniformStretch {
  /** Seconds from the start of the trace to the first sample of this stretch. */
  readonly startS: number
  readonly acc: Vector3Series
  readonly gyr?: Vector3Series
}

/** A trace on an even time grid, split at its gaps; `rateHz` holds for every stretch. */
export interface UniformTrace {
  readonly rateHz: number
  readonly stretches: readonly UniformStretch[]
  /** Samples of the trace in runs too short to use. */
  readonly droppedSamples?: number
}
