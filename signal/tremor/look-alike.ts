import { bandPower, densityAt } from '../spectrum/band-power.ts'
import { spectralPeak } from '../spectrum/peak.ts'
import type { Psd } from '../spectrum/welch.ts'
import type { TremorSpectra } from './tremor-spectra.ts'

/** What can pass for tremor at one trunk sensor. */
export type LookAlike = 'panting' | 'tail wag' | 'handling'

/** Power this close to the peak is asked for its direction, Hz … */
const PEAK_REACH_HZ = 0.75
/** … less the background, as seen this far from it, just beyond the main lobe of the window. */
const FLANK_HZ = { from: 1, to: 1.75 }

/** Panting of dogs lies near the resonance of their airways, about 5.3 Hz (Crawford 1962, from memory). */
const PANTING_HZ = { from: 3.5, to: 6.5 }

/**
 * Panting moves both sides of the chest alike, so next to nothing across the body: at most this share of the
 * power, a third in amplitude (our choice); equal axes give 0.33.
 */
const PANTING_ACROSS_SHARE = 0.1

/** Least share on DV of panting while the heading is unresolved; equal axes give 0.33 (our choice). */
const PANTING_DV_SHARE = 0.5

/** Tail wags swing the trunk sideways, about 2 to 5 Hz (common practice, no source); slower is sway. */
const TAIL_WAG_HZ = { from: 2, to: 5 }

/** A frequency found is good to half a bin; twice of it to a whole one. */
const PEAK_ERROR_BINS = 0.5

/** A peak is the second harmonic of one at half its frequency that is at least this many times as high (our choice). */
const FUNDAMENTAL_RATIO = 3

/**
 * Share of the power along one horizontal line (ML where it is known) from which a rhythm may be a wag: midway
 * from two equal axes going together (0.5) to that line alone.
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
  const slackHz = PEAK_ERROR_BINS * spectra.sum.frequencyHz[1]
  const isIn = ({ from, to }: { from: number; to: number }) =>
    rhythmHz >= from - slackHz && rhythmHz <= to + slackHz
  if (!isIn(PANTING_HZ) && !isIn(TAIL_WAG_HZ)) return null
  const { ml, dv, line, beside } = directionOf(rhythmHz, spectra)
  const upright = headingResolved || dv >= PANTING_DV_SHARE
  if (isIn(PANTING_HZ) && upright && (headingResolved ? ml : beside) <= PANTING_ACROSS_SHARE) return 'panting'
  return isIn(TAIL_WAG_HZ) && (headingResolved ? ml : line) >= TAIL_WAG_LINE_SHARE ? 'tail wag' : null
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

/** How the power of a rhythm, without its background, spreads over directions: shares of the whole, 0..1. */
interface Direction {
  readonly ml: number
  readonly dv: number
  /** Along the horizontal direction that holds most of it, and across that: the same for any heading. */
  readonly line: number
  readonly beside: number
}

/** The horizontal directions are the eigenvectors of the 2 × 2 matrix of co-spectral power. */
function directionOf(atHz: number, spectra: TremorSpectra): Direction {
  const { sum } = spectra
  const below = flank(sum, atHz - FLANK_HZ.to, atHz - FLANK_HZ.from)
  const above = flank(sum, atHz + FLANK_HZ.from, atHz + FLANK_HZ.to)
  // The lesser flank: the other may hold sway or another rhythm.
  const [fromHz, toHz] = meanDensity(sum, above) < meanDensity(sum, below) ? above : below
  const near = flank(sum, atHz - PEAK_REACH_HZ, atHz + PEAK_REACH_HZ)
  const excess = (psd: Psd) => meanDensity(psd, near) - meanDensity(psd, [fromHz, toHz])
  const ml = Math.max(0, excess(spectra.ml))
  const cc = Math.max(0, excess(spectra.cc))
  const dv = Math.max(0, excess(spectra.dv))
  const together = (excess(spectra.diagonal()) - ml - cc) / 2
  const half = Math.min(ml + cc, Math.hypot(ml - cc, 2 * together)) / 2
  const total = ml + cc + dv
  return {
    ml: ml / total,
    dv: dv / total,
    line: ((ml + cc) / 2 + half) / total,
    beside: ((ml + cc) / 2 - half) / total,
  }
}

/** The part of a range that the spectrum covers; at least one bin wide. */
function flank({ rateHz, frequencyHz }: Psd, fromHz: number, toHz: number): [number, number] {
  const from = Math.min(Math.max(0, fromHz), rateHz / 2 - frequencyHz[1])
  return [from, Math.min(rateHz / 2, Math.max(toHz, from + frequencyHz[1]))]
}

function meanDensity(psd: Psd, [fromHz, toHz]: readonly [number, number]): number {
  return bandPower(psd, fromHz, toHz) / (toHz - fromHz)
}
