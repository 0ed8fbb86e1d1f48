/** A straight line through arrivals: the time of sample n is interceptS + n · periodS. */
export interface ClockFit {
  readonly interceptS: number
  readonly periodS: number
  /** 1 / periodS. */
  readonly rateHz: number
  /** How much faster than nominal the sensor's clock runs, parts per million; null without a nominal rate. */
  readonly driftPpm: number | null
}

/** An arrival: when the packet that ends with sample `index` came in. */
export interface Arrival {
  readonly index: number
  readonly arrivedS: number
}

/**
 * The sensor's clock from sample indices and arrival times. A packet never comes early, only late, so the
 * line lies under all arrivals and touches two of them: the edge of the lower convex hull over the mean
 * index, which is the optimum of the linear programme max Σ(a + b·n) subject to a + b·n ≤ arrival (Moon,
 * Skelly & Towsley 1999, Estimation and removal of clock skew from network delay measurements, INFOCOM;
 * from memory). Bursts and stalls do not pull it, as they pull least squares. The intercept holds the least
 * delay of the link, which cannot be told from the clock's own offset.
 *
 * @param index sample indices with losses counted, strictly ascending, shape (n), n >= 2
 * @param arrivedS seconds, shape (n)
 * @param nominalRateHz rate to compare with
 * @throws {RangeError} when shapes differ, n < 2, an index does not ascend, or time runs backward over all
 */
export function fitClock(
  index: ArrayLike<number>,
  arrivedS: ArrayLike<number>,
  nominalRateHz?: number,
): ClockFit {
  const n = index.length
  if (arrivedS.length !== n || n < 2) {
    throw new RangeError(
      `fitClock requires two or more arrivals, got ${n} indices and ${arrivedS.length} times`,
    )
  }
  const hull: Arrival[] = []
  let sum = 0
  for (let i = 0; i < n; i++) {
    if (!(i === 0 || index[i] > index[i - 1])) {
      throw new RangeError(`fitClock requires ascending indices, got ${index[i]} after ${index[i - 1]}`)
    }
    extendHull(hull, { index: index[i], arrivedS: arrivedS[i] })
    // From the first index, so that a large counter does not cost digits.
    sum += index[i] - index[0]
  }
  const [from, to] = edgeOver(hull, index[0] + sum / n)
  return lineThrough(from, to, nominalRateHz)
}

/** Adds an arrival on the right of a lower convex hull (Andrew's monotone chain), dropping what it covers. */
export function extendHull(hull: Arrival[], added: Arrival): void {
  while (hull.length >= 2) {
    const a = hull[hull.length - 2]
    const b = hull[hull.length - 1]
    const turn =
      (b.index - a.index) * (added.arrivedS - a.arrivedS) -
      (b.arrivedS - a.arrivedS) * (added.index - a.index)
    if (turn > 0) break
    hull.pop()
  }
  hull.push(added)
}

/** The edge of a hull of two or more points that spans the index. */
export function edgeOver(hull: readonly Arrival[], index: number): [Arrival, Arrival] {
  let right = 1
  while (right < hull.length - 1 && hull[right].index < index) right++
  return [hull[right - 1], hull[right]]
}

/** @throws {RangeError} when the later index came first */
export function lineThrough(from: Arrival, to: Arrival, nominalRateHz?: number): ClockFit {
  const periodS = (to.arrivedS - from.arrivedS) / (to.index - from.index)
  if (!(periodS > 0 && Number.isFinite(periodS))) {
    throw new RangeError(
      `a clock runs forward, got ${periodS} s per sample between ${from.index} and ${to.index}`,
    )
  }
  return clockLine(from.arrivedS - from.index * periodS, periodS, nominalRateHz)
}

/** The fit of given intercept and period. */
export function clockLine(interceptS: number, periodS: number, nominalRateHz?: number): ClockFit {
  return {
    interceptS,
    periodS,
    rateHz: 1 / periodS,
    driftPpm: nominalRateHz === undefined ? null : (1 / (periodS * nominalRateHz) - 1) * 1e6,
  }
}
