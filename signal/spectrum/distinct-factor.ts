import { normalQuantile } from '../trend/normal-quantile.ts'

/** Chance that a band of plain noise shows a "distinct" peak, by construction of `distinctFactor`. */
export const FALSE_PEAK_RATE = 0.02

/** No peak counts as distinct below this many times its background, however long the recording. */
export const MIN_DISTINCT_FACTOR = 3

/**
 * How many times its background a peak must reach to count as distinct: the level that the highest
 * of `bins` noise bins passes in fewer than 2 % of recordings, and never less than 3.
 *
 * A density averaged over K half-overlapping Hann segments scatters like χ²(ν)/ν with
 * ν = 2K / (1 + (1 − 1/K)/18), since neighbouring segments share 1/6 of their amplitude, 1/36 of
 * their power (Welch 1967). The factor is the 1 − 0.02/bins quantile of that (Wilson–Hilferty), over
 * what a line through the logarithms finds: exp(mean ln χ²(ν)/ν) = exp(ψ(ν/2)) / (ν/2). The margin
 * for the scatter of the line itself was set by simulation; a test repeats it with seeded noise.
 * Summing axes lowers the scatter further; that is not used, as one axis may carry all the noise.
 *
 * @param segments segments averaged, >= 1
 * @param bins bins of the band searched, >= 1
 */
export function distinctFactor(segments: number, bins: number): number {
  if (!(segments >= 1 && bins >= 1)) {
    throw new RangeError(`distinctFactor requires segments and bins >= 1, got ${segments} and ${bins}`)
  }
  const dof = (2 * segments) / (1 + (1 - 1 / segments) / 18)
  const z = normalQuantile(1 - FALSE_PEAK_RATE / bins)
  const noisePeak = (1 - 2 / (9 * dof) + z * Math.sqrt(2 / (9 * dof))) ** 3
  const logMean = Math.exp(digamma(dof / 2)) / (dof / 2)
  const lineMargin = 1 + LINE_MARGIN / Math.sqrt(segments)
  return Math.max(MIN_DISTINCT_FACTOR, (lineMargin * noisePeak) / logMean)
}

/** Share by which the level rises at one segment; the scatter of the line falls with the root of K. */
const LINE_MARGIN = 0.15

/** Derivative of ln Γ for x >= 1: recurrence up to 6, then the asymptotic series (A&S 6.3.5, 6.3.18). */
function digamma(x: number): number {
  let value = 0
  let at = x
  for (; at < 6; at++) value -= 1 / at
  const inverse = 1 / (at * at)
  return value + Math.log(at) - 0.5 / at - inverse * (1 / 12 - inverse * (1 / 120 - inverse / 252))
}
