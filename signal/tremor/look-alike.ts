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

/** Share of the power off ML at which a narrow peak may be panting: midway from equal axes (0.67) to none on ML. */
const PANTING_OFF_ML_SHARE = 0.83

/** The same share on DV alone while the heading is unresolved; equal axes give 0.33. */
const PANTING_DV_SHARE = 0.5

/** Tail wags swing the trunk sideways, about 2 to 5 Hz (common practice, no source); slower is sway. */
const TAIL_WAG_HZ = { from: 2, to: 5 }
const TAIL_WAG_ML_SHARE = 0.6

/** A frequency found is good to half a bin; twice of it to a whole one. */
const PEAK_ERROR_BINS = 0.5

/** A peak is the second harmonic of one at half its frequency that is at least this many times as high (our choice). */
const FUNDAMENTAL_RATIO = 3

/**
 * Share of the power along one horizontal line at which a rhythm may be a wag while ML is unknown: midway from
 * two equal axes going together (0.5 of the power of four limbs' tremor or less) to that line alone.
 */
const TAIL_WAG_LINE_SHARE = 0.75

/**
 * Whether a distinct peak moves the trunk as panting or tail wagging does, else null. A first version
 * from direction and frequency alone: a real tremor along the body between 3.5 and 6.5 Hz is flagged
 * as panting too, so a person decides. A peak at twice the frequency of a higher, distinct one is its
 * second harmonic and takes its name. With an unresolved heading a wag is a swing along one horizontal
 * line, whichever it is, and panting a rhythm mainly on DV.
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
  const slackHz = PEAK_ERROR_BINS * spectra.sum.frequencyHz[1]
  const isIn = ({ from, to }: { from: number; to: number }) =>
    rhythmHz >= from - slackHz && rhythmHz <= to + slackHz
  if (headingResolved) {
    if (isIn(PANTING_HZ) && 1 - ml > PANTING_OFF_ML_SHARE) return 'panting'
    return isIn(TAIL_WAG_HZ) && ml >= TAIL_WAG_ML_SHARE ? 'tail wag' : null
  }
  if (isIn(PANTING_HZ) && dv >= PANTING_DV_SHARE) return 'panting'
  return isIn(TAIL_WAG_HZ) && lineShare(rhythmHz, spectra) >= TAIL_WAG_LINE_SHARE ? 'tail wag' : null
}

/** Frequency of the distinct peak whose second harmonic the peak is, Hz; null when it stands for itself. */
function fundamentalOf(peakHz: number, sum: Psd): number | null {
  const binHz = sum.frequencyHz[1]
  const half = spectralPeak(sum, Math.max(0, peakHz / 2 - binHz), peakHz / 2 + binHz)
  if (half === null || !half.distinct) return null
  if (half.density < FUNDAMENTAL_RATIO * densityAt(sum, peakHz)) return null
  const slackHz = (2 * PEAK_ERROR_BINS + PEAK_ERROR_BINS) * binHz
  return Math.abs(2 * half.peakHz - peakHz) <= slackHz ? half.peakHz : null
}

/** Shares of the power near a frequency that lie on ML and on DV, 0..1. */
function sharesAround(atHz: number, spectra: TremorSpectra): { ml: number; dv: number } {
  const total = powerNear(spectra.sum, atHz)
  return { ml: powerNear(spectra.ml, atHz) / total, dv: powerNear(spectra.dv, atHz) / total }
}

/**
 * Share of the power near a frequency along the horizontal direction that holds most of it, 0..1: the larger
 * eigenvalue of the 2 × 2 matrix of co-spectral power, so the same for any heading.
 */
function lineShare(atHz: number, spectra: TremorSpectra): number {
  const ml = powerNear(spectra.ml, atHz)
  const cc = powerNear(spectra.cc, atHz)
  const together = (powerNear(spectra.diagonal(), atHz) - ml - cc) / 2
  const most = (ml + cc + Math.hypot(ml - cc, 2 * together)) / 2
  return most / powerNear(spectra.sum, atHz)
}

function powerNear(psd: Psd, atHz: number): number {
  return bandPower(psd, Math.max(0, atHz - PEAK_REACH_HZ), Math.min(psd.rateHz / 2, atHz + PEAK_REACH_HZ))
}
