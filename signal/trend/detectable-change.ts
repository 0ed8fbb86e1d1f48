import { tQuantile } from './f-quantile.ts'
import type { MeanSquares } from './mean-squares.ts'
import { normalQuantile } from './normal-quantile.ts'

const Z_975 = normalQuantile(0.975)

/**
 * Standard error of measurement from a table of subjects by trials, in its unit: how far one value strays
 * from what would be measured on average. 'consistency' (√residual) leaves out a shift common to all
 * subjects from trial to trial, 'agreement' (√(residual + (betweenTrials − residual)/n)) counts it.
 *
 * A negative variance of trials counts as 0.
 * @see Weir 2005, J. Strength Cond. Res. 19:231–240
 */
export function semOfTable(
  { subjects, betweenTrials, residual }: MeanSquares,
  kind: 'consistency' | 'agreement',
): number {
  if (kind === 'consistency') return Math.sqrt(residual)
  return Math.sqrt(residual + Math.max(0, betweenTrials - residual) / subjects)
}

/**
 * Smallest change between two single values that noise alone exceeds in only 5 % of cases, in the unit of
 * `sem`: MDC₉₅ = 1.96·√2·SEM.
 *
 * @throws {RangeError} unless sem >= 0
 * @see Weir 2005, J. Strength Cond. Res. 19:231–240
 */
export function mdc95(sem: number): number {
  if (!(sem >= 0)) throw new RangeError(`mdc95 requires sem >= 0, got ${sem}`)
  return Z_975 * Math.SQRT2 * sem
}

/** A change on a log scale in percent: e^x − 1, times 100. */
export function percentOfLog(change: number): number {
  return 100 * Math.expm1(change)
}

/** How far a dog's own repeated values stray on one set-up while nothing changes. */
export interface OwnNoise {
  /** Mean of the values, in their unit. */
  readonly mean: number
  /** Standard deviation (ddof 1), in their unit. */
  readonly sem: number
  /** Degrees of freedom behind it. */
  readonly dof: number
}

/**
 * Mean and SEM of one dog's baseline sessions.
 *
 * @param values shape (n), n >= 2
 * @throws {RangeError} if there are fewer than 2 values or one is not finite
 */
export function ownNoise(values: readonly number[]): OwnNoise {
  if (values.length < 2) throw new RangeError(`ownNoise requires at least 2 values, got ${values.length}`)
  for (const value of values) {
    if (!Number.isFinite(value)) throw new RangeError(`ownNoise requires finite values, got ${value}`)
  }
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length
  const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0)
  return { mean, sem: Math.sqrt(squares / (values.length - 1)), dof: values.length - 1 }
}

/**
 * MDC₉₅ with a SEM known from few values of the dog itself, in the unit of `sem`: t₀.₉₇₅,dof · SEM ·
 * √(v₁ + v₂). The v are the variances of what is compared, in units of SEM²: 1 for one value, 1/m for a mean
 * of m, 1 − √3/π for a median of 3. Two single values (v₁ = v₂ = 1) and endless dof give Weir's 1.96·√2·SEM.
 *
 * @throws {RangeError} unless sem >= 0, dof > 0 and both variances are > 0
 * @see Weir 2005, J. Strength Cond. Res. 19:231–240; t in place of 1.96 since the SEM is an estimate
 * (Student 1908)
 */
export function ownMdc95({ sem, dof }: Pick<OwnNoise, 'sem' | 'dof'>, v1 = 1, v2 = 1): number {
  if (!(sem >= 0)) throw new RangeError(`ownMdc95 requires sem >= 0, got ${sem}`)
  if (!(v1 > 0 && v2 > 0)) throw new RangeError(`ownMdc95 requires variances > 0, got ${v1} and ${v2}`)
  return tQuantile(0.975, dof) * Math.sqrt(v1 + v2) * sem
}
