import { selectInPlace } from './select.ts'

/** The middle value (the mean of the two middle ones for an even count); not for an empty array. */
export function median(values: Float64Array): number {
  if (values.length === 0) throw new RangeError('median requires at least one value')
  const copy = values.slice()
  const middle = copy.length >> 1
  if (copy.length % 2 === 1) return selectInPlace(copy, middle)
  const lower = selectInPlace(copy, middle - 1)
  return (lower + selectInPlace(copy, middle, middle)) / 2
}
