import { bandPower } from '../spectrum/band-power.ts'
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

/** Tail wags swing the trunk sideways, up to about 5 Hz (common practice, no source). */
const TAIL_WAG_MAX_HZ = 5
const TAIL_WAG_ML_SHARE = 0.6

/**
 * Whether a distinct peak moves the trunk as panting or tail wagging does, else null. A first version
 * from direction and frequency alone: a real tremor along the body between 3.5 and 6.5 Hz is flagged
 * as panting too, so a person decides. With an unresolved heading a tail wag cannot be told.
 *
 * @param peakHz refined frequency of a peak already found distinct
 */
export function lookAlikeOf(
  peakHz: number,
  spectra: TremorSpectra,
  headingResolved: boolean,
): LookAlike | null {
  const fromHz = Math.max(0, peakHz - PEAK_REACH_HZ)
  const toHz = Math.min(spectra.sum.rateHz / 2, peakHz + PEAK_REACH_HZ)
  const total = bandPower(spectra.sum, fromHz, toHz)
  const dvShare = bandPower(spectra.dv, fromHz, toHz) / total
  const mlShare = bandPower(spectra.ml, fromHz, toHz) / total
  const inPantingRange = peakHz >= PANTING_HZ.from && peakHz <= PANTING_HZ.to
  if (!headingResolved) return inPantingRange && dvShare >= PANTING_DV_SHARE ? 'panting' : null
  if (inPantingRange && 1 - mlShare > PANTING_OFF_ML_SHARE) return 'panting'
  if (peakHz <= TAIL_WAG_MAX_HZ && mlShare >= TAIL_WAG_ML_SHARE) return 'tail wag'
  return null
}
