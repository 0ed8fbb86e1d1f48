/** The middle value (the mean of the two middle ones for an even count); not for an empty array. */
export function median(values: Float64Array): number {
  if (values.length === 0) throw new RangeError('median requires at least one value')
  const sorted = values.slice().sort()
  const middle = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2
}
