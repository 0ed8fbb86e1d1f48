import { SWAY_CUTOFF_HZ, SWAY_FILTER_ORDER } from '../constants.ts'
import { butterworthLowPass } from '../filter/butterworth.ts'
import { sosfiltfiltThree } from '../filter/zero-phase.ts'
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
  return lowPass(stretch, rateHz, meansOf(stretch))
}

/** As `lowPassStretch`, with the mean put back: all stretches of a recording then share one zero. */
export function lowPassStretchAboutMean(stretch: DogAxes, rateHz: number): DogAxes {
  const means = meansOf(stretch)
  const { ml, cc, dv } = lowPass(stretch, rateHz, means)
  for (let i = 0; i < ml.length; i++) {
    ml[i] += means[0]
    cc[i] += means[1]
    dv[i] += means[2]
  }
  return { ml, cc, dv }
}

function lowPass(stretch: DogAxes, rateHz: number, means: readonly [number, number, number]): DogAxes {
  const sos = butterworthLowPass(SWAY_FILTER_ORDER, SWAY_CUTOFF_HZ, rateHz)
  const [ml, cc, dv] = sosfiltfiltThree(sos, [stretch.ml, stretch.cc, stretch.dv], means)
  return { ml, cc, dv }
}

function meansOf({ ml, cc, dv }: DogAxes): [number, number, number] {
  let sumMl = 0
  let sumCc = 0
  let sumDv = 0
  for (let i = 0; i < ml.length; i++) {
    sumMl += ml[i]
    sumCc += cc[i]
    sumDv += dv[i]
  }
  return [sumMl / ml.length, sumCc / ml.length, sumDv / ml.length]
}
