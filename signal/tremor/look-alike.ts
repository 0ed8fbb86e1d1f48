import { bandPower, densityAt } from '../spectrum/band-power.ts'
import { spectralPeak } from '../spectrum/peak.ts'
import type { Psd } from '../spectrum/welch.ts'
import type { TremorSpectra } from './tremor-spectra.ts'

/** What can pass for tremor at one trunk sensor. */
export type LookAlike = 'panting' | 'tail wag' | 'handling'

/** Power this close to the peak is asked for its direction, Hz. */
const PEAK_REACH_HZ = 0.75

/** Panting of dogs lies near the resonance of their airways, about 5.3 Hz (Crawford 1962, from memory). */
const PANTING_HZ = { from: 3.5, to: 6.5 }

/** Share of the power off ML at which a narrow peak may be panting; equal axes give 0.67. */
const PANTING_OFF_ML_SHARE = 0.7

/** The same share on DV alone while the heading is unresolved; equal axes give 0.33. */
const PANTING_DV_SHARE = 0.5

/** Tail wags swing the trunk sideways, about 2 to 5 Hz (common practice, no source); slower is sway. */
const TAIL_WAG_HZ = { from: 2, to: 5 }
const TAIL_WAG_ML_SHARE = 0.6

/** A peak is the second harmonic of one at half its frequency that is at least this many times as high (our choice). */
const FUNDAMENTAL_RATIO = 3

/** Share on DV under which a rhythm is mainly horizontal; equal axes give 0.33. */
const HORIZONTAL_DV_SHARE = 0.33

/**
 * Whether a distinct peak moves the trunk as panting or tail wagging does, else null. A first version
 * from direction and frequency alone: a real tremor along the body between 3.5 and 6.5 Hz is flagged
 * as panting too, so a person decides. With an unresolved heading a tail wag cannot be told by its own
 * peak, only by its second harmonic: a peak at twice the frequency of a higher, distinct one takes that
 * one's name.
 *
 * @param peakHz refined frequency of a peak already found distinct
 */
export function lookAlikeOf(
  peakHz: number,
  spectra: TremorSpectra,
  headingResolved: boolean,
): LookAlike | null {
  const fundamentalHz = fundamentalOf(peakHz, spectra.sum)
  const rhythmHz = fundamentalHz ?? peakHz
  const { ml, dv } = sharesAround(rhythmHz, spectra)
  const isIn = (range: { from: number; to: number }) => rhythmHz >= range.from && rhythmHz <= range.to
  if (headingResolved) {
    if (isIn(PANTING_HZ) && 1 - ml > PANTING_OFF_ML_SHARE) return 'panting'
    return isIn(TAIL_WAG_HZ) && ml >= TAIL_WAG_ML_SHARE ? 'tail wag' : null
  }
  if (isIn(PANTING_HZ) && dv >= PANTING_DV_SHARE) return 'panting'
  const wags = fundamentalHz !== null && isIn(TAIL_WAG_HZ) && dv < HORIZONTAL_DV_SHARE
  return wags ? 'tail wag' : null
}

/** Frequency of the distinct peak whose second harmonic the peak is, Hz; null when it stands for itself. */
function fundamentalOf(peakHz: number, sum: Psd): number | null {
  const binHz = sum.frequencyHz[1]
  const half = spectralPeak(sum, Math.max(0, peakHz / 2 - binHz), peakHz / 2 + binHz)
  if (half === null || !half.distinct) return null
  if (half.density < FUNDAMENTAL_RATIO * densityAt(sum, peakHz)) return null
  return Math.abs(2 * half.peakHz - peakHz) <= binHz ? half.peakHz : null
}

/** Shares of the power near a frequency that lie on ML and on DV, 0..1. */
function sharesAround(atHz: number, spectra: TremorSpectra): { ml: number; dv: number } {
  const fromHz = Math.max(0, atHz - PEAK_REACH_HZ)
  const toHz = Math.min(spectra.sum.rateHz / 2, atHz + PEAK_REACH_HZ)
  const total = bandPower(spectra.sum, fromHz, toHz)
  return {
    ml: bandPower(spectra.ml, fromHz, toHz) / total,
    dv: bandPower(spectra.dv, fromHz, toHz) / total,
  }
}
