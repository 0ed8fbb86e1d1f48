import { filterBackward, filterForward, filterThreeBackward, filterThreeForward } from './cascade.ts'
import type { Three } from './cascade.ts'
import { steadyState } from './sos.ts'
import type { Sos } from './sos.ts'

/**
 * `x` filtered forward and backward, shape (n), in the unit of `x`: no delay, the gain of the filter
 * squared (so −6.02 dB at the corner of one pass).
 *
 * Both ends are first extended by an odd reflection (2·x₀ − xₖ), and each pass starts in the steady
 * state of its first sample, as SciPy's `sosfiltfilt` does by default; equal to it within rounding.
 * A signal no longer than that extension, which SciPy refuses, is extended by n − 1 samples instead.
 *
 * @param x samples at a uniform rate, no gaps, shape (n), n >= 1; not modified
 * @throws {RangeError} if x is empty or the filter has no sections
 * @see Gustafsson 1996, IEEE Trans. Signal Process. 44:988–992, on start-up transients (from memory)
 */
export function sosfiltfilt(sos: Sos, x: Float64Array): Float64Array {
  if (sos.length === 0) throw new RangeError('sosfiltfilt requires at least one section')
  const n = x.length
  if (n === 0) throw new RangeError('sosfiltfilt requires at least one sample')
  const pad = Math.min(defaultPadding(sos), n - 1)
  const extended = oddExtension(x, pad)

  const unitState = steadyState(sos)
  const settledAt = (value: number) => unitState.map((unit) => unit * value)
  filterForward(sos, settledAt(extended[0]), extended)
  filterBackward(sos, settledAt(extended[extended.length - 1]), extended)
  return extended.subarray(pad, pad + n)
}

/**
 * `sosfiltfilt` of three channels of one length, each without the level given for it: the same numbers
 * as one by one, in less time and memory.
 */
export function sosfiltfiltThree(
  sos: Sos,
  channels: Three,
  levels: readonly [number, number, number] = [0, 0, 0],
): Three {
  if (sos.length === 0) throw new RangeError('sosfiltfiltThree requires at least one section')
  const n = channels[0].length
  if (n === 0) throw new RangeError('sosfiltfiltThree requires at least one sample')
  const pad = Math.min(defaultPadding(sos), n - 1)
  const unitState = steadyState(sos)
  const each = <T>(make: (channel: number) => T): [T, T, T] => [make(0), make(1), make(2)]
  const extended = each((channel) => oddExtension(channels[channel], pad, levels[channel]))
  const settledAt = (i: number) => each((channel) => unitState.map((unit) => unit * extended[channel][i]))
  filterThreeForward(sos, settledAt(0), extended)
  filterThreeBackward(sos, settledAt(n + 2 * pad - 1), extended)
  return each((channel) => extended[channel].subarray(pad, pad + n))
}

/** Samples SciPy adds at each end: three times the length of the longer polynomial of the filter. */
export function defaultPadding(sos: Sos): number {
  const zerosAtOrigin = sos.filter((row) => row[2] === 0).length
  const polesAtOrigin = sos.filter((row) => row[5] === 0).length
  return 3 * (2 * sos.length + 1 - Math.min(zerosAtOrigin, polesAtOrigin))
}

/** x − level, with `pad` samples more at each end. */
function oddExtension(x: Float64Array, pad: number, level = 0): Float64Array {
  const n = x.length
  const extended = new Float64Array(n + 2 * pad)
  for (let i = 0; i < n; i++) extended[pad + i] = x[i] - level
  const first = extended[pad]
  const last = extended[pad + n - 1]
  for (let k = 1; k <= pad; k++) {
    extended[pad - k] = 2 * first - extended[pad + k]
    extended[pad + n - 1 + k] = 2 * last - extended[pad + n - 1 - k]
  }
  return extended
}
