/** Compares found stable holds with the simulator's truth. */

export interface Interval {
  readonly fromS: number
  readonly toS: number
}

export interface DetectionScore {
  /** True holds of at least `minTrueS`. */
  trueHolds: number
  /** Of those, found: one found hold and the true one overlap by more than half of each. */
  foundHolds: number
  /** Found holds that overlap no true stable interval by more than half of themselves. */
  falseHolds: number
  /** Absolute start and end errors of matched holds, s. */
  edgeErrorsS: number[]
  /** Signed errors, found − true. */
  startErrorsS: number[]
  endErrorsS: number[]
  minutes: number
}

export function emptyScore(): DetectionScore {
  return {
    trueHolds: 0,
    foundHolds: 0,
    falseHolds: 0,
    edgeErrorsS: [],
    startErrorsS: [],
    endErrorsS: [],
    minutes: 0,
  }
}

export function overlapS(a: Interval, b: Interval): number {
  return Math.max(0, Math.min(a.toS, b.toS) - Math.max(a.fromS, b.fromS))
}

/**
 * Adds one recording. `truth` are the stable intervals that count, `also` further ones that may be
 * found without being false (quiet stands, lies, stands shorter than the minimum).
 */
export function score(
  into: DetectionScore,
  found: readonly Interval[],
  truth: readonly Interval[],
  also: readonly Interval[],
  durationS: number,
): void {
  into.minutes += durationS / 60
  for (const hold of truth) {
    into.trueHolds++
    const match = found.find((f) => overlapS(f, hold) > Math.max(hold.toS - hold.fromS, f.toS - f.fromS) / 2)
    if (!match) continue
    into.foundHolds++
    into.startErrorsS.push(match.fromS - hold.fromS)
    into.endErrorsS.push(match.toS - hold.toS)
    into.edgeErrorsS.push(Math.abs(match.fromS - hold.fromS), Math.abs(match.toS - hold.toS))
  }
  for (const f of found) {
    const inside = [...truth, ...also].reduce((sum, t) => sum + overlapS(f, t), 0)
    if (inside < (f.toS - f.fromS) / 2) into.falseHolds++
  }
}

export function quantile(values: readonly number[], p: number): number {
  const sorted = Float64Array.from(values).sort()
  return sorted[Math.min(sorted.length - 1, Math.max(0, Math.ceil(p * sorted.length) - 1))]
}
