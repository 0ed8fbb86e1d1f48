import type { SwayReport } from '../report-types.ts'
import type { DogAxes } from '../sway/dog-axes.ts'
import { swayJerk } from '../sway/jerk.ts'
import { rmsInterval } from '../sway/rms-interval.ts'
import { noSwaySpectrum, swaySpectrum } from '../sway/sway-spectrum.ts'
import { horizontalRms, planarPath, swayMeasures } from '../sway/sway.ts'
import { leastSwayMs2 } from '../sway/least-sway.ts'
import type { Piece } from './dog-stretch.ts'

/** Pieces shorter than this beside a gap carry filter transients and are left out when others exist, s. */
const MIN_PIECE_S = 1
const HEADING_REASON = 'heading unresolved: only direction-free measures'

export interface SwayContext {
  readonly rateHz: number
  readonly headingResolved: boolean
  /** Horizontal RMS of the marked floor quiet stand, m/s²; null when there is none. */
  readonly floorSwayMs2: number | null
  /** What the sensor cannot see below, m/s² per axis RMS; null when unknown. */
  readonly noiseFloorMs2: number | null
  /** Smallest step of the acceleration as the sensor states it, m/s²; null when it states none. */
  readonly resolutionMs2: number | null
}

/** The pieces of an interval long enough to be measured: those ≥ 1 s, else the longest one. */
export function measurablePieces(pieces: readonly Piece[], rateHz: number): Piece[] {
  const long = pieces.filter((piece) => piece.samples >= MIN_PIECE_S * rateHz)
  if (long.length > 0) return long
  const longest = longestPiece(pieces)
  return longest && longest.samples >= 3 ? [longest] : []
}

export function longestPiece(pieces: readonly Piece[]): Piece | null {
  return pieces.reduce<Piece | null>((best, p) => (best && best.samples >= p.samples ? best : p), null)
}

/**
 * Sway of one interval from its measurable gap-free pieces (at least one). RMS, range and ellipse
 * are of all their samples about the common mean; path and jerk are summed within pieces, never
 * across a gap; the spectrum is that of the longest piece.
 */
export function holdSway(pieces: readonly Piece[], context: SwayContext): SwayReport {
  const { rateHz, headingResolved } = context
  const all = joined(pieces.map((piece) => piece.lowPassed))
  const measures = swayMeasures(all, rateHz)
  const isWhole = pieces.length === 1
  const path = isWhole ? measures.path : sumOver(pieces, ({ ml, cc }) => planarPath(ml, cc))
  const jerk = isWhole ? measures.jerk : sumOver(pieces, ({ ml, cc }) => swayJerk(ml, cc, rateHz))
  const { area, major, minor, angleDeg, n } = measures.ellipse
  const unresolved = headingResolved ? {} : { reason: HEADING_REASON }
  const axis = (value: number) => (headingResolved ? value : null)
  const reasons: string[] = []
  if (context.floorSwayMs2 === null) reasons.push('no marked quiet stand on the floor: no steadiness ratio')
  const interval = rmsInterval(all.ml, all.cc, rateHz)
  if (!interval) reasons.push('too short for an interval of the RMS')
  const floor = context.noiseFloorMs2
  const leastMs2 = leastSwayMs2(context.resolutionMs2)
  if (leastMs2 !== null && measures.rms.horizontal < leastMs2) {
    reasons.push(
      `below what this sensor can measure (${leastMs2.toPrecision(2)} m/s² with its steps of ` +
        `${context.resolutionMs2} m/s²): the dog may be steadier, or less steady, than the numbers show`,
    )
  } else if (floor !== null && measures.rms.horizontal < 2 * Math.SQRT2 * floor) {
    reasons.push('within twice the noise of this sensor: the dog may be steadier than the numbers show')
  }
  return {
    rms: {
      ml: axis(measures.rms.ml),
      cc: axis(measures.rms.cc),
      dv: measures.rms.dv,
      horizontal: measures.rms.horizontal,
      ...unresolved,
    },
    range: { ml: axis(measures.range.ml), cc: axis(measures.range.cc), ...unresolved },
    path,
    pathRate: path / (all.ml.length / rateHz),
    jerk,
    ellipse: {
      area,
      major,
      minor,
      angleDeg: axis(angleDeg),
      n,
      convention: '95% prediction ellipse (exact F)',
      ...unresolved,
    },
    spectral: headingResolved
      ? swaySpectrum(longestPiece(pieces)!.raw, rateHz)
      : noSwaySpectrum(HEADING_REASON),
    rmsInterval: interval,
    steadinessRatio: context.floorSwayMs2 === null ? null : measures.rms.horizontal / context.floorSwayMs2,
    ...(reasons.length > 0 ? { reason: reasons.join('; ') } : {}),
  }
}

/** Horizontal sway RMS of an interval as `holdSway` gives it, m/s². */
export function piecesRms(pieces: readonly Piece[]): number {
  const { ml, cc } = joined(pieces.map((piece) => piece.lowPassed))
  return horizontalRms(ml, cc)
}

function sumOver(pieces: readonly Piece[], measure: (lowPassed: DogAxes) => number): number {
  return pieces.reduce((sum, { lowPassed }) => sum + measure(lowPassed), 0)
}

/** Samples of several pieces one after the other; a single piece is not copied. */
export function joined(axes: readonly DogAxes[]): DogAxes {
  if (axes.length === 1) return axes[0]
  const join = (pick: (a: DogAxes) => Float64Array) => {
    const out = new Float64Array(axes.reduce((n, a) => n + pick(a).length, 0))
    let at = 0
    for (const a of axes) {
      out.set(pick(a), at)
      at += pick(a).length
    }
    return out
  }
  return { ml: join((a) => a.ml), cc: join((a) => a.cc), dv: join((a) => a.dv) }
}
