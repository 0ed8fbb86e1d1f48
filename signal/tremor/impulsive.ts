import type { DogAxes } from '../sway/dog-axes.ts'

/** Kurtosis above this is bursts: a steady tremor has 1.5, noise 3, a tremor on for a fifth of the time 7.5. */
const IMPULSIVE_KURTOSIS = 10

/** Moving mean taken off first, s: leaves what is faster than about 2 Hz. */
const TREND_WINDOW_S = 0.5

/**
 * Left out at both ends, s: ends of holds are placed to 0.1 s, so the last samples may belong to the step that
 * ended the hold, and the Hann windows of the spectrum hardly weigh them either.
 */
const END_S = 0.2

/**
 * Whether the fast motion of an interval is short bursts, as taps, grips and strap tugs of a handler
 * make, and not a lasting oscillation: kurtosis Σm₄ / Σm₂² over the axes above 10 after a moving mean
 * of 0.5 s is taken off, 0.2 s left out at both ends. A first version: a hand that rests and sways with
 * the dog is not seen.
 */
export function isImpulsive(interval: DogAxes, rateHz: number): boolean {
  let fourth = 0
  let squaredVariance = 0
  const n = interval.ml.length
  const end = Math.min(Math.round(END_S * rateHz), Math.floor(n / 4))
  const count = n - 2 * end
  for (const axis of [interval.ml, interval.cc, interval.dv]) {
    const fast = withoutMovingMean(axis, Math.round((TREND_WINDOW_S * rateHz) / 2))
    let sum2 = 0
    let sum4 = 0
    for (let i = end; i < n - end; i++) {
      const square = fast[i] * fast[i]
      sum2 += square
      sum4 += square * square
    }
    fourth += sum4 / count
    squaredVariance += (sum2 / count) ** 2
  }
  return squaredVariance > 0 && fourth / squaredVariance > IMPULSIVE_KURTOSIS
}

/** x minus the mean of the samples within `reach` on both sides, fewer at the ends. */
function withoutMovingMean(x: Float64Array, reach: number): Float64Array {
  const n = x.length
  const fast = new Float64Array(n)
  let sum = 0
  let from = 0
  let to = 0
  for (let i = 0; i < n; i++) {
    while (to < n && to <= i + reach) sum += x[to++]
    while (from < i - reach) sum -= x[from++]
    fast[i] = x[i] - sum / (to - from)
  }
  return fast
}
