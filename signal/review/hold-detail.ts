import type { Analysis } from '../report.ts'
import { piecesOf } from '../session/dog-stretch.ts'
import { joined, longestPiece, measurablePieces } from '../session/hold-sway.ts'
import { tremorSpectra } from '../tremor/tremor-spectra.ts'
import { timeFrequencyOf } from './time-frequency.ts'
import type { TimeFrequency } from './time-frequency.ts'

/** What the pictures of one hold are drawn from. */
export interface HoldDetailData {
  readonly index: number
  /** Low-passed ML and CC about their mean, m/s²; thinned to at most 25 points a second. */
  readonly path: { readonly stepS: number; readonly ml: number[]; readonly cc: number[] }
  /** Sum of the three axes' densities, (m/s²)²/Hz, up to 25 Hz. */
  readonly spectrum: { readonly frequencyHz: number[]; readonly density: number[] }
  /** Of the longest gap-free part, `fromS` from the start of the hold; null when that is shorter than 2 s. */
  readonly timeFrequency: TimeFrequency | null
}

const PATH_HZ = 25
const SPECTRUM_TO_HZ = 25

/** @throws {RangeError} for an index without a hold */
export function holdDetailOf(analysis: Analysis, index: number): HoldDetailData {
  const { report, stretchesOf, uniform } = analysis
  const hold = report.holds[index]
  if (!hold) throw new RangeError(`holdDetailOf requires 0 <= index < ${report.holds.length}, got ${index}`)
  const pieces = measurablePieces(piecesOf(stretchesOf(hold), uniform.rateHz, hold), uniform.rateHz)
  const { ml, cc } = joined(pieces.map((piece) => piece.lowPassed))
  const every = Math.max(1, Math.floor(uniform.rateHz / PATH_HZ))
  const longest = longestPiece(pieces)!
  const psd = tremorSpectra(longest.raw, uniform.rateHz).sum
  const timeFrequency = timeFrequencyOf(longest.raw, uniform.rateHz)
  const bins = psd.frequencyHz.findIndex((f) => f > SPECTRUM_TO_HZ)
  const shown = bins < 0 ? psd.frequencyHz.length : bins
  return {
    index,
    path: { stepS: every / uniform.rateHz, ml: thinned(ml, every), cc: thinned(cc, every) },
    spectrum: {
      frequencyHz: Array.from(psd.frequencyHz.subarray(0, shown)),
      density: Array.from(psd.density.subarray(0, shown)),
    },
    timeFrequency: timeFrequency && {
      ...timeFrequency,
      fromS: timeFrequency.fromS + Math.max(0, longest.fromS - hold.fromS),
    },
  }
}

/** Every n-th value about the mean of all. */
function thinned(x: Float64Array, every: number): number[] {
  let mean = 0
  for (let i = 0; i < x.length; i++) mean += x[i] / x.length
  const out: number[] = []
  for (let i = 0; i < x.length; i += every) out.push(x[i] - mean)
  return out
}
