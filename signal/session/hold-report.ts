import type { Band } from '../constants.ts'
import type { BandReport, HoldReport, SwayDegreesReport, SwayReport } from '../report-types.ts'
import { tremorBands } from '../tremor/tremor.ts'
import type { Piece } from './dog-stretch.ts'
import type { CorrectedHold } from './hold-edits.ts'
import { holdSway, longestPiece, measurablePieces } from './hold-sway.ts'
import type { SwayContext } from './hold-sway.ts'
import type { PostureSway } from './posture-sway.ts'
import { handsOffWithin, knownWithin, totalS } from './support.ts'
import type { Support } from './support.ts'

/** Below this share of its samples a hold gives no tremor figure. */
const MIN_TREMOR_COVERAGE = 0.95

/** A band below this many times the sensor's own noise in it says little about the dog (our choice). */
const NOISE_RATIO = 2

export interface HoldContext extends SwayContext {
  readonly sourceRateHz: number
  readonly bands: readonly Band[]
  readonly support: Support
  readonly posture?: PostureSway
}

/** Measures one hold; an empty list when no sample of it can be measured. */
export function holdReport(
  hold: CorrectedHold,
  allPieces: readonly Piece[],
  context: HoldContext,
): HoldReport[] {
  const pieces = measurablePieces(allPieces, context.rateHz)
  if (pieces.length === 0) return []
  const durationS = hold.toS - hold.fromS
  const present = allPieces.reduce((n, piece) => n + piece.samples, 0)
  const measured = pieces.reduce((n, piece) => n + piece.samples, 0)
  const coverage = Math.min(1, present / (durationS * context.rateHz))
  const { support } = context
  const reasons: string[] = []
  const known = knownWithin(support, hold)
  if (!support.known) reasons.push('nobody marked hands on or off')
  else if (!known) reasons.push('before the first mark of hands on or off')
  else if (known.fromS > hold.fromS) {
    reasons.push(`hands on or off unknown for its first ${(known.fromS - hold.fromS).toFixed(1)} s`)
  }
  if (measured < present) {
    const leftOutS = ((present - measured) / context.rateHz).toFixed(1)
    reasons.push(`${leftOutS} s between gaps too short to measure`)
  }
  return [
    {
      fromS: hold.fromS,
      toS: hold.toS,
      durationS,
      handsOffS: known ? totalS(handsOffWithin(support, hold)) : null,
      role: 'exercise',
      endedBy: hold.endedBy,
      ...(hold.setBy && { setBy: hold.setBy }),
      sway: withDegrees(holdSway(pieces, context), context.posture?.over(pieces)),
      tremor: { bands: holdTremor(pieces, coverage, context) },
      ...(reasons.length > 0 ? { reason: reasons.join('; ') } : {}),
    },
  ]
}

function withDegrees(sway: SwayReport, degrees: SwayDegreesReport | undefined): SwayReport {
  return degrees ? { ...sway, degrees } : sway
}

function holdTremor(pieces: readonly Piece[], coverage: number, context: HoldContext): BandReport[] {
  if (coverage < MIN_TREMOR_COVERAGE) {
    const reason = `${(coverage * 100).toFixed(0)} % of the samples arrived; tremor needs 95 %`
    return context.bands.map((band) => ({
      ...band,
      power: null,
      rms: null,
      peakHz: null,
      peakWidthHz: null,
      distinct: false,
      lookalike: null,
      reason,
    }))
  }
  const bands = tremorBands(longestPiece(pieces)!.raw, context.rateHz, context.bands, context.sourceRateHz, {
    headingResolved: context.headingResolved,
  })
  return bands.map((band) => aboveNoise(band, context))
}

/** Adds to the reason when a band holds little more than the sensor's own noise and steps. */
function aboveNoise(band: BandReport, { noiseFloorMs2, sourceRateHz }: HoldContext): BandReport {
  if (band.rms === null || noiseFloorMs2 === null) return band
  // White noise of three axes: its power in the band is the band's share of 0 Hz to half the rate.
  const floorMs2 = noiseFloorMs2 * Math.sqrt((3 * (band.toHz - band.fromHz)) / (sourceRateHz / 2))
  if (band.rms >= NOISE_RATIO * floorMs2) return band
  const why = `not clearly above this sensor's own noise (${(floorMs2 * 1000).toFixed(1)} mm/s² in this band)`
  return { ...band, reason: band.reason ? `${band.reason}; ${why}` : why }
}
