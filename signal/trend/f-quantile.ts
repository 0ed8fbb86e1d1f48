import { incompleteBeta } from './incomplete-beta.ts'
import type { Share } from './incomplete-beta.ts'

/** Bounds of ln F that hold every quantile a double can tell apart; outside them x or 1 − x is 0. */
const LOGIT_RANGE = 700
const HALVINGS = 200

/**
 * Value that an F-distributed ratio of two mean squares stays below with probability p. Relative error
 * about 1e-12; degrees of freedom may be fractions, as in Satterthwaite's formula.
 *
 * x = d₁F/(d₁F + d₂) is beta distributed; I_x(d₁/2, d₂/2) = p is solved for ln(x/(1 − x)) by halving,
 * which keeps both x and 1 − x exact and cannot miss. About 60 steps.
 *
 * @throws {RangeError} unless 0 < p < 1 and both degrees of freedom are > 0
 * @see Abramowitz & Stegun 1964, 26.6.2 (from memory)
 */
export function fQuantile(p: number, numeratorDof: number, denominatorDof: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`fQuantile requires 0 < p < 1, got ${p}`)
  if (!(numeratorDof > 0 && denominatorDof > 0)) {
    throw new RangeError(
      `fQuantile requires degrees of freedom > 0, got ${numeratorDof} and ${denominatorDof}`,
    )
  }
  const isBelow = (logit: number) => {
    const tails = incompleteBeta(shareOf(logit), numeratorDof / 2, denominatorDof / 2)
    return p <= 0.5 ? tails.lower < p : tails.upper > 1 - p
  }
  let low = -LOGIT_RANGE
  let high = LOGIT_RANGE
  for (let step = 0; step < HALVINGS; step++) {
    const middle = (low + high) / 2
    if (middle <= low || middle >= high) break
    if (isBelow(middle)) low = middle
    else high = middle
  }
  return (denominatorDof / numeratorDof) * Math.exp((low + high) / 2)
}

/**
 * Value that Student's t with `dof` degrees of freedom stays below with probability p; t² follows
 * F(1, dof). Relative error about 1e-12, but for p within 1e-8 of a half, where p itself has few digits.
 *
 * @throws {RangeError} unless 0 < p < 1 and dof > 0
 * @see Student 1908, Biometrika 6:1–25
 */
export function tQuantile(p: number, dof: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`tQuantile requires 0 < p < 1, got ${p}`)
  if (!(dof > 0)) throw new RangeError(`tQuantile requires dof > 0, got ${dof}`)
  if (p === 0.5) return 0
  // From the tail itself: 2p − 1 would lose the digits of a small p.
  if (p < 0.5) return -Math.sqrt(1 / fQuantile(2 * p, dof, 1))
  return Math.sqrt(1 / fQuantile(2 * (1 - p), dof, 1))
}

function shareOf(logit: number): Share {
  const odds = Math.exp(-Math.abs(logit))
  const small = odds / (1 + odds)
  const large = 1 / (1 + odds)
  return logit < 0 ? { x: small, rest: large } : { x: large, rest: small }
}
