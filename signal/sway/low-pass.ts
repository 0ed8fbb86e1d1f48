import { SWAY_CUTOFF_HZ, SWAY_FILTER_ORDER } from '../constants.ts'
import { butterworthLowPass } from '../filter/butterworth.ts'
import type { Sos } from '../filter/sos.ts'
import { sosfiltfilt } from '../filter/zero-phase.ts'
import type { DogAxes } from './dog-axes.ts'

/**
 * A whole gap-free stretch ready for sway measures, m/s², same shape: the mean of the stretch is
 * removed, then a 4th-order Butterworth low-pass of 3.5 Hz runs forward and backward. Holds are cut
 * out of the result, so that the ends of a hold are filtered with what surrounds it.
 *
 * @throws {RangeError} if the stretch is empty or rateHz <= 7 (twice the corner)
 * @see Mancini et al. 2012, J. NeuroEng. Rehabil. 9:59; corner from memory
 */
export function lowPassStretch(stretch: DogAxes, rateHz: number): DogAxes {
  const sos = butterworthLowPass(SWAY_FILTER_ORDER, SWAY_CUTOFF_HZ, rateHz)
  return {
    ml: lowPassAxis(sos, stretch.ml),
    cc: lowPassAxis(sos, stretch.cc),
    dv: lowPassAxis(sos, stretch.dv),
  }
}

function lowPassAxis(sos: Sos, x: Float64Array): Float64Array {
  let sum = 0
  for (let i = 0; i < x.length; i++) sum += x[i]
  const mean = sum / x.length
  const centred = new Float64Array(x.length)
  for (let i = 0; i < x.length; i++) centred[i] = x[i] - mean
  return sosfiltfilt(sos, centred)
}
