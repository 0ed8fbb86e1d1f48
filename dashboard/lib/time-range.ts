/** A visible stretch of a recording, seconds. */
export interface TimeRange {
  fromS: number
  toS: number
}

/** The shortest stretch worth looking at, s. */
const SHORTEST_S = 1

/** The same length around the same middle times `factor`, kept inside [0, durationS]. */
export function zoomed(range: TimeRange, factor: number, durationS: number): TimeRange {
  const middleS = (range.fromS + range.toS) / 2
  const lengthS = Math.min(durationS, Math.max(SHORTEST_S, (range.toS - range.fromS) * factor))
  return inside({ fromS: middleS - lengthS / 2, toS: middleS + lengthS / 2 }, durationS)
}

/** Moved by a share of its own length (negative: earlier), kept inside [0, durationS]. */
export function panned(range: TimeRange, share: number, durationS: number): TimeRange {
  const byS = (range.toS - range.fromS) * share
  return inside({ fromS: range.fromS + byS, toS: range.toS + byS }, durationS)
}

/** Shifted, not shortened, so that it lies inside [0, durationS] where it fits. */
export function inside(range: TimeRange, durationS: number): TimeRange {
  const lengthS = Math.min(durationS, range.toS - range.fromS)
  const fromS = Math.min(Math.max(0, range.fromS), durationS - lengthS)
  return { fromS, toS: fromS + lengthS }
}
