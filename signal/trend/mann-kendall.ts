import { inversionCounts } from './kendall-counts.ts'
import { normalTail } from './normal-tail.ts'

/** Up to this many values p is counted, above it the normal approximation is close. */
export const MAX_EXACT_VALUES = 10

/** Fewer values than this cannot give a two-sided p below 0.05: for 4 the least is 1/12, for 5 it is 1/60. */
export const MIN_VALUES_FOR_5_PERCENT = 5

/** A test for rising or falling in time, whatever the shape. */
export interface MannKendall {
  readonly n: number
  /** Pairs that rise less pairs that fall. */
  readonly s: number
  /** Variance of s when the order is random, corrected for ties. */
  readonly variance: number
  /** (s ∓ 1)/√variance, 0 for s = 0. */
  readonly z: number
  /** Two-sided. */
  readonly p: number
  readonly pMethod: 'exact' | 'normal'
  /** Kendall's tau-b with time, −1..1; null when all values are equal. */
  readonly tauB: number | null
}

/**
 * Mann–Kendall test of values in time order.
 *
 * S = Σ_{i<j} sgn(y_j − y_i); Var(S) = [n(n−1)(2n+5) − Σt(t−1)(2t+5)]/18 over groups of t equal values;
 * z = (S − sgn S)/√Var(S). p up to n = 10 is exact, also with ties: the share of all orders of these
 * values whose |S| is at least as large. Above, 2·P(Z > |z|). The values are taken as independent: serial
 * correlation makes p too small, so give it one value per week rather than every session.
 *
 * @param values shape (n), n >= 2, any unit, in time order; times themselves do not matter
 * @throws {RangeError} if there are fewer than 2 values or one is not finite
 * @see Mann 1945, Econometrica 13:245–259; Kendall 1975, Rank Correlation Methods; Gilbert 1987, Statistical
 * Methods for Environmental Pollution Monitoring, 208–217 (from memory)
 */
export function mannKendall(values: ArrayLike<number>): MannKendall {
  const n = values.length
  if (n < 2) throw new RangeError(`mannKendall requires at least 2 values, got ${n}`)
  for (let i = 0; i < n; i++) {
    if (!Number.isFinite(values[i])) {
      throw new RangeError(`mannKendall requires finite values, got ${values[i]} at index ${i}`)
    }
  }
  const s = kendallS(values)
  const groups = groupSizes(values)
  const variance = groups.reduce((sum, size) => sum - tieTerm(size), tieTerm(n)) / 18
  const z = s === 0 ? 0 : (s - Math.sign(s)) / Math.sqrt(variance)
  const pairs = (n * (n - 1)) / 2
  const untied = groups.reduce((sum, size) => sum - (size * (size - 1)) / 2, pairs)
  const exact = n <= MAX_EXACT_VALUES
  return {
    n,
    s,
    variance,
    z,
    p: exact ? exactP(s, untied, groups) : Math.min(1, 2 * normalTail(Math.abs(z))),
    pMethod: exact ? 'exact' : 'normal',
    tauB: untied === 0 ? null : s / Math.sqrt(pairs * untied),
  }
}

function kendallS(values: ArrayLike<number>): number {
  let s = 0
  for (let i = 0; i < values.length; i++) {
    for (let j = i + 1; j < values.length; j++) s += Math.sign(values[j] - values[i])
  }
  return s
}

function tieTerm(size: number): number {
  return size * (size - 1) * (2 * size + 5)
}

function groupSizes(values: ArrayLike<number>): number[] {
  const counts = new Map<number, number>()
  for (let i = 0; i < values.length; i++) counts.set(values[i], (counts.get(values[i]) ?? 0) + 1)
  return [...counts.values()]
}

function exactP(s: number, untied: number, groups: readonly number[]): number {
  const counts = inversionCounts(groups)
  let extreme = 0
  let all = 0
  counts.forEach((count, inversions) => {
    all += count
    if (Math.abs(untied - 2 * inversions) >= Math.abs(s)) extreme += count
  })
  return extreme / all
}
