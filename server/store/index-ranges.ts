import type { IndexRange } from './time-series.ts'

/** Ascending, those that follow on one another as one. */
export function joinedRanges(ranges: readonly IndexRange[]): IndexRange[] {
  const joined: IndexRange[] = []
  for (const { firstIndex, count } of ranges.toSorted((a, b) => a.firstIndex - b.firstIndex)) {
    const last = joined.at(-1)
    const lastEnd = last ? last.firstIndex + last.count : -1
    if (!last || firstIndex > lastEnd) joined.push({ firstIndex, count })
    else
      joined[joined.length - 1] = {
        ...last,
        count: Math.max(lastEnd, firstIndex + count) - last.firstIndex,
      }
  }
  return joined
}

export function isWithin(index: number, ranges: readonly IndexRange[]): boolean {
  return ranges.some(({ firstIndex, count }) => firstIndex <= index && index < firstIndex + count)
}
