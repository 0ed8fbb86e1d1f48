import { filterBackward, filterForward } from './cascade.ts'
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
  const state = unitState.map((value) => value * extended[0])
  filterForward(sos, state, extended)
  const last = extended[extended.length - 1]
  for (let i = 0; i < state.length; i++) state[i] = unitState[i] * last
  filterBackward(sos, state, extended)
  return extended.slice(pad, pad + n)
}

/** Samples SciPy adds at each end: three times the length of the longer polynomial of the filter. */
export function defaultPadding(sos: Sos): number {
  const zerosAtOrigin = sos.filter((row) => row[2] === 0).length
  const polesAtOrigin = sos.filter((row) => row[5] === 0).length
  return 3 * (2 * sos.length + 1 - Math.min(zerosAtOrigin, polesAtOrigin))
}

function oddExtension(x: Float64Array, pad: number): Float64Array {
  const n = x.length
  const extended = new Float64Array(n + 2 * pad)
  extended.set(x, pad)
  for (let k = 1; k <= pad; k++) {
    extended[pad - k] = 2 * x[0] - x[k]
    extended[pad + n - 1 + k] = 2 * x[n - 1] - x[n - 1 - k]
  }
  return extended
}
