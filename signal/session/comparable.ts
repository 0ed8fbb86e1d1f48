import { median } from 'simple-statistics'
import type { Band } from '../constants.ts'
import type { ComparableReport } from '../report-types.ts'
import { swayJerk } from '../sway/jerk.ts'
import type { LookAlike } from '../tremor/tremor.ts'
import { horizontalRms, planarPath } from '../sway/sway.ts'
import { tremorBandPower } from '../tremor/tremor.ts'
import { piecesOf } from './dog-stretch.ts'
import type { DogStretch } from './dog-stretch.ts'
import type { Span } from './support.ts'

/**
 * Length of a comparable piece, s: pressure-plate work with dogs finds pieces of 5–15 s repeatable
 * and pieces of 1–2 s not (Aghapour et al. 2024, Front Vet Sci 11:1353824).
 */
export const PIECE_S = 5

/** Fewer pieces than this make a weak session. */
const MIN_PIECES = 2

/** Hold time that counts, with what its hold was flagged for. */
export interface ComparableSpan extends Span {
  readonly lookalike?: LookAlike | null
}

/** A dog's trunk never stands this still, m/s² RMS: the sensor stood still. */
const FROZEN_MS2 = 1e-6

/** Where to lay pieces, and on what. */
export interface PieceSpans {
  readonly stretchesOf: (span: Span) => readonly DogStretch[]
  readonly rateHz: number
  /** Spans of hold time that count, in any order. */
  readonly spans: readonly ComparableSpan[]
}

export interface ComparableInput extends PieceSpans {
  readonly sourceRateHz: number
  readonly tremorBand: Band
  readonly basis: ComparableReport['basis']
}

/**
 * Medians over the 5 s pieces that fit gap-free into the spans, laid end to end from each start. Pieces in
 * which the sensor did not change are left out; pieces of a hold flagged for a look-alike give no tremor
 * figure, and the reason says when a wagging tail may have raised the sway.
 */
export function comparableMeasures(input: ComparableInput): ComparableReport {
  const { rateHz } = input
  const sway: number[] = []
  const pathRate: number[] = []
  const jerk: number[] = []
  const tremor: number[] = []
  const flags: LookAlike[] = []
  let frozen = 0
  let noTremor: string | undefined
  for (const span of fiveSecondSpans(input)) {
    const [piece] = piecesOf(input.stretchesOf(span), rateHz, span)
    const { ml, cc } = piece.lowPassed
    const rms = horizontalRms(ml, cc)
    if (rms < FROZEN_MS2) {
      frozen++
      continue
    }
    sway.push(rms)
    pathRate.push((planarPath(ml, cc) * rateHz) / ml.length)
    jerk.push(swayJerk(ml, cc, rateHz))
    if (span.lookalike) {
      flags.push(span.lookalike)
      continue
    }
    const band = tremorBandPower(piece.raw, rateHz, input.tremorBand, input.sourceRateHz)
    if (band.rms !== null) tremor.push(band.rms)
    else noTremor = `no tremor figure: ${band.reason}`
  }
  const reasons = [
    ...(sway.length < MIN_PIECES ? [`gap-free pieces of 5 s: ${sway.length}, needed: ${MIN_PIECES}`] : []),
    ...(frozen > 0 ? [`left out ${frozen} in which the sensor did not change`] : []),
    ...(noTremor === undefined ? [] : [noTremor]),
    ...flagReasons(flags, sway.length),
  ]
  const middle = (values: number[]) => (values.length > 0 ? median(values) : null)
  return {
    pieceS: PIECE_S,
    pieces: sway.length,
    basis: input.basis,
    swayRms: middle(sway),
    pathRate: middle(pathRate),
    jerk: middle(jerk),
    tremorRms: middle(tremor),
    weak: sway.length < MIN_PIECES,
    ...(reasons.length > 0 ? { reason: reasons.join('; ') } : {}),
  }
}

function flagReasons(flags: readonly LookAlike[], pieces: number): string[] {
  if (flags.length === 0) return []
  const kinds = [...new Set(flags)].join(' or ')
  const reasons = [`tremor without ${flags.length} of ${pieces} pieces, which look like ${kinds}`]
  const wags = flags.filter((flag) => flag === 'tail wag').length
  if (wags > 0)
    reasons.push(`${wags} of ${pieces} pieces with what looks like a wagging tail, which raises sway`)
  return reasons
}

/** Horizontal sway RMS of each 5 s piece that fits gap-free into the spans, m/s²; frozen pieces left out. */
export function pieceSways(input: PieceSpans): number[] {
  return fiveSecondSpans(input).flatMap((span) => {
    const [{ lowPassed }] = piecesOf(input.stretchesOf(span), input.rateHz, span)
    const rms = horizontalRms(lowPassed.ml, lowPassed.cc)
    return rms < FROZEN_MS2 ? [] : [rms]
  })
}

/** Gap-free 5 s spans: within each gap-free part of each span, one after the other. */
function fiveSecondSpans(input: PieceSpans): ComparableSpan[] {
  const spans: ComparableSpan[] = []
  for (const span of input.spans) {
    for (const piece of piecesOf(input.stretchesOf(span), input.rateHz, span)) {
      const count = Math.floor((piece.samples / input.rateHz + 1e-9) / PIECE_S)
      for (let i = 0; i < count; i++) {
        const fromS = piece.fromS + i * PIECE_S
        spans.push({ fromS, toS: fromS + PIECE_S, lookalike: span.lookalike })
      }
    }
  }
  return spans
}
