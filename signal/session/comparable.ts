import { median } from 'simple-statistics'
import type { Band } from '../constants.ts'
import type { ComparableReport } from '../report-types.ts'
import { swayJerk } from '../sway/jerk.ts'
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

export interface ComparableInput {
  readonly stretchesOf: (span: Span) => readonly DogStretch[]
  readonly rateHz: number
  readonly sourceRateHz: number
  readonly tremorBand: Band
  /** Spans of hold time that count, longest-first order not required. */
  readonly spans: readonly Span[]
  readonly basis: ComparableReport['basis']
}

/** Medians over the 5 s pieces that fit gap-free into the spans, laid end to end from each start. */
export function comparableMeasures(input: ComparableInput): ComparableReport {
  const { rateHz } = input
  const sway: number[] = []
  const pathRate: number[] = []
  const jerk: number[] = []
  const tremor: number[] = []
  let noTremor: string | undefined
  for (const span of fiveSecondSpans(input)) {
    const [piece] = piecesOf(input.stretchesOf(span), rateHz, span)
    const { ml, cc } = piece.lowPassed
    sway.push(horizontalRms(ml, cc))
    pathRate.push((planarPath(ml, cc) * rateHz) / ml.length)
    jerk.push(swayJerk(ml, cc, rateHz))
    const band = tremorBandPower(piece.raw, rateHz, input.tremorBand, input.sourceRateHz)
    if (band.rms !== null) tremor.push(band.rms)
    else noTremor = `no tremor figure: ${band.reason}`
  }
  const reasons = [
    ...(sway.length < MIN_PIECES ? [`gap-free pieces of 5 s: ${sway.length}, needed: ${MIN_PIECES}`] : []),
    ...(noTremor === undefined ? [] : [noTremor]),
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

/** Gap-free 5 s spans: within each gap-free part of each span, one after the other. */
function fiveSecondSpans(input: ComparableInput): Span[] {
  const spans: Span[] = []
  for (const span of input.spans) {
    for (const piece of piecesOf(input.stretchesOf(span), input.rateHz, span)) {
      const count = Math.floor((piece.samples / input.rateHz + 1e-9) / PIECE_S)
      for (let i = 0; i < count; i++) {
        const fromS = piece.fromS + i * PIECE_S
        spans.push({ fromS, toS: fromS + PIECE_S })
      }
    }
  }
  return spans
}
