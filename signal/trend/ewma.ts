/** Relative differences below this are rounding: values that never change lie on their target. */
const ROUNDING = 1e-12

/** Values of an EWMA chart, one entry per value, in the unit of the values. */
export interface EwmaChart {
  readonly ewma: Float64Array
  readonly low: Float64Array
  readonly high: Float64Array
  /** Indices at which `ewma` lies outside its limits. */
  readonly outside: readonly number[]
}

export interface EwmaOptions {
  /** Level to be held, unit of the values: the mean of a stable baseline. */
  readonly target: number
  /** Standard deviation of one value about the target, unit of the values. */
  readonly sigma: number
  /** Weight of the newest value, 0..1; 0.2 by default: notices shifts of about one sigma. */
  readonly lambda?: number
  /** Width of the limits in standard deviations of the average, 2.7 by default, the usual partner of 0.2. */
  readonly limitWidth?: number
}

/**
 * Exponentially weighted moving average with its exact, time-varying limits: z₀ = target,
 * z_t = λx_t + (1 − λ)z_{t−1}, limits target ± L·σ·√(λ/(2 − λ)·[1 − (1 − λ)^{2t}]).
 *
 * The limits widen from L·λ·σ at the first value to L·σ·√(λ/(2 − λ)). A small lasting shift is noticed
 * earlier than by single values.
 *
 * @param values shape (n), in time order, one unit
 * @throws {RangeError} if a value or the target is not finite, or unless sigma >= 0, 0 < lambda <= 1 and
 * limitWidth > 0
 * @see NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4; Roberts 1959, Technometrics 1:239–250;
 * λ 0.2 with L 2.7: Lucas & Saccucci 1990, Technometrics 32:1–12 (from memory)
 */
export function ewmaChart(values: ArrayLike<number>, options: EwmaOptions): EwmaChart {
  const { target, sigma, lambda = 0.2, limitWidth = 2.7 } = options
  if (!Number.isFinite(target)) throw new RangeError(`ewmaChart requires a finite target, got ${target}`)
  if (!(sigma >= 0 && sigma < Infinity)) throw new RangeError(`ewmaChart requires sigma >= 0, got ${sigma}`)
  if (!(lambda > 0 && lambda <= 1)) throw new RangeError(`ewmaChart requires 0 < lambda <= 1, got ${lambda}`)
  if (!(limitWidth > 0)) throw new RangeError(`ewmaChart requires limitWidth > 0, got ${limitWidth}`)
  const n = values.length
  const chart = { ewma: new Float64Array(n), low: new Float64Array(n), high: new Float64Array(n) }
  const outside: number[] = []
  let average = target
  for (let i = 0; i < n; i++) {
    if (!Number.isFinite(values[i])) {
      throw new RangeError(`ewmaChart requires finite values, got ${values[i]} at index ${i}`)
    }
    average = lambda * values[i] + (1 - lambda) * average
    const share = 1 - (1 - lambda) ** (2 * (i + 1))
    const reach = limitWidth * sigma * Math.sqrt((lambda / (2 - lambda)) * share)
    chart.ewma[i] = average
    chart.low[i] = target - reach
    chart.high[i] = target + reach
    if (Math.abs(average - target) > reach + ROUNDING * Math.abs(target)) outside.push(i)
  }
  return { ...chart, outside }
}
