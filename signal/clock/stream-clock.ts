import { fitClock } from './lower-hull.ts'
import { levelWithMost } from './clock-steps.ts'

/** The clock of a recorded stream, as the report names it. */
export interface StreamClock {
  /** Samples per second the times of the stream are taken from: sample n lies at n ÷ this. */
  readonly rateHz: number
  /** What the sensor said of itself. */
  readonly nominalRateHz: number
  /** How much faster than nominal the sensor ran, parts per million; null without a trustworthy fit. */
  readonly driftPpm: number | null
  /** When sample 0 was taken by the fit, less when it was said to be taken, s: the least delay of the link is in it. */
  readonly offsetS: number | null
  /** Median distance of the earliest arrival of each 5 s from the line, s: how well it is borne out. */
  readonly residualS: number | null
  readonly basis: 'arrival times' | 'nominal rate'
  /** Why the nominal rate was taken. */
  readonly reason?: string
}

/** Arrivals over less than this, s, or fewer of them, give no rate better than the sensor's own word. */
const MIN_SPAN_S = 60
const MIN_ARRIVALS = 60
/**
 * A sensor's oscillator is off by percents at most (common practice, no source); an arrival rate further
 * away says that the rate was told wrongly, or that the times of arrival are no times of arrival.
 */
const MAX_DRIFT_PPM = 50_000

/**
 * The clock of a whole stream from the arrivals of its packets (`fitClock`). Arrivals on another level
 * than most of them, as after a step of the clock they were stamped with, are left out. Falls back to the
 * nominal rate, and says why, when the rest spans less than 60 s, or contradicts it by more than 5 %.
 *
 * @param index of the last sample of each packet, losses counted, strictly ascending, shape (n)
 * @param arrivedS seconds after the stated time of sample 0, shape (n)
 * @throws {RangeError} when shapes differ, an index does not ascend, or the rate is not positive
 */
export function streamClock(
  index: ArrayLike<number>,
  arrivedS: ArrayLike<number>,
  nominalRateHz: number,
): StreamClock {
  if (!(nominalRateHz > 0))
    throw new RangeError(`streamClock requires nominalRateHz > 0, got ${nominalRateHz}`)
  if (arrivedS.length !== index.length) {
    throw new RangeError(
      `streamClock requires as many times as indices, got ${arrivedS.length} and ${index.length}`,
    )
  }
  const nominal = (reason: string): StreamClock => ({
    rateHz: nominalRateHz,
    nominalRateHz,
    driftPpm: null,
    offsetS: null,
    residualS: null,
    basis: 'nominal rate',
    reason,
  })
  const all = spanS(index, nominalRateHz)
  if (index.length < MIN_ARRIVALS || all < MIN_SPAN_S) {
    return nominal(
      `packets arrived over ${all.toFixed(0)} s; a rate takes ${MIN_SPAN_S} s and ${MIN_ARRIVALS} packets`,
    )
  }
  const { index: kept, arrivedS: times, steps, minima } = levelWithMost(index, arrivedS, nominalRateHz)
  const why = steps > 0 ? 'the clock of the sender jumped, and ' : ''
  if (kept.length < MIN_ARRIVALS || spanS(kept, nominalRateHz) < MIN_SPAN_S) {
    return nominal(`${why}packets arrived evenly over ${spanS(kept, nominalRateHz).toFixed(0)} s only`)
  }
  if (!(times[times.length - 1] - times[0] > 0)) return nominal('times of arrival do not go forward')
  const { interceptS, periodS, rateHz } = fitClock(kept, times)
  const driftPpm = (rateHz / nominalRateHz - 1) * 1e6
  if (Math.abs(driftPpm) > MAX_DRIFT_PPM) {
    return nominal(
      `${why}packets arrived as from a sensor of ${rateHz.toPrecision(4)} Hz, too far from the ${nominalRateHz} Hz it was said to have`,
    )
  }
  const above = minima.map(({ index: n, arrivedS: t }) => t - interceptS - n * periodS).sort((a, b) => a - b)
  return {
    rateHz,
    nominalRateHz,
    driftPpm,
    offsetS: interceptS,
    residualS: above[above.length >> 1],
    basis: 'arrival times',
  }
}

function spanS(index: ArrayLike<number>, rateHz: number): number {
  return index.length === 0 ? 0 : (index[index.length - 1] - index[0]) / rateHz
}
