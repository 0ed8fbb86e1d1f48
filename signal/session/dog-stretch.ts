import { toDogAxes } from '../mount/rotation.ts'
import type { Rotation } from '../mount/rotation.ts'
import { cutAxes } from '../sway/dog-axes.ts'
import type { DogAxes } from '../sway/dog-axes.ts'
import { lowPassStretchAboutMean } from '../sway/low-pass.ts'
import type { UniformTrace } from '../trace/trace.ts'
import type { Span } from './support.ts'

/**
 * A gap-free stretch in dog axes: as measured, and low-passed as a whole for the sway measures (its
 * mean put back, so that the pieces of a hold on both sides of a gap share one zero).
 */
export interface DogStretch {
  readonly startS: number
  readonly raw: DogAxes
  readonly lowPassed: DogAxes
  /** Rate of turn, rad/s, when the sensor has a gyroscope. */
  readonly gyr?: DogAxes
}

/** The gap-free parts of an interval, in both forms; `raw[i]` and `lowPassed[i]` are the same samples. */
export interface Piece {
  readonly stretch: DogStretch
  /** Index of its first sample in the stretch. */
  readonly from: number
  readonly fromS: number
  readonly raw: DogAxes
  readonly lowPassed: DogAxes
  readonly samples: number
}

export function toDogStretches(uniform: UniformTrace, rotation: Rotation): DogStretch[] {
  return uniform.stretches.map((stretch) => {
    const raw = toDogAxes(rotation, stretch.acc)
    return {
      startS: stretch.startS,
      raw,
      lowPassed: lowPassStretchAboutMean(raw, uniform.rateHz),
      ...(stretch.gyr && { gyr: toDogAxes(rotation, stretch.gyr) }),
    }
  })
}

/** Cuts [fromS, toS) out of the stretches: one piece per stretch it touches, as views. */
export function piecesOf(stretches: readonly DogStretch[], rateHz: number, span: Span): Piece[] {
  const pieces: Piece[] = []
  for (const stretch of stretches) {
    const n = stretch.raw.ml.length
    const from = Math.max(0, indexAt(stretch.startS, rateHz, span.fromS))
    const to = Math.min(n, indexAt(stretch.startS, rateHz, span.toS))
    if (to <= from) continue
    pieces.push({
      stretch,
      from,
      fromS: stretch.startS + from / rateHz,
      raw: cutAxes(stretch.raw, from, to),
      lowPassed: cutAxes(stretch.lowPassed, from, to),
      samples: to - from,
    })
  }
  return pieces
}

/** First sample at or after `tS`; a sample within a millionth of a period of it counts as at it. */
function indexAt(startS: number, rateHz: number, tS: number): number {
  return Math.ceil((tS - startS) * rateHz - 1e-6)
}
