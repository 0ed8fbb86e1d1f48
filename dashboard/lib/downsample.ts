export interface MinMax {
  min: (number | null)[]
  max: (number | null)[]
}

/**
 * Smallest and largest value per bucket, so that a drawing of `buckets` columns shows every spike.
 * A bucket without finite values is null (a gap stays a gap). With fewer values than buckets
 * every value is its own bucket.
 */
export function minMaxBuckets(values: ArrayLike<number | null>, buckets: number): MinMax {
  if (!(buckets >= 1)) throw new RangeError(`minMaxBuckets requires buckets >= 1, got ${buckets}`)
  const n = values.length
  const count = Math.min(Math.floor(buckets), n)
  const min: (number | null)[] = []
  const max: (number | null)[] = []
  for (let b = 0; b < count; b++) {
    let low = Infinity
    let high = -Infinity
    const to = Math.floor(((b + 1) * n) / count)
    for (let i = Math.floor((b * n) / count); i < to; i++) {
      const value = values[i]
      if (value === null || !Number.isFinite(value)) continue
      if (value < low) low = value
      if (value > high) high = value
    }
    min.push(low === Infinity ? null : low)
    max.push(high === -Infinity ? null : high)
  }
  return { min, max }
}
