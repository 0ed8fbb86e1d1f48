import type { TimeRange } from '../time-range'

/** From the first mark of hands on: who carried the weight, from mark to mark. Unknown before it. */
export function handsSpans(
  marks: readonly { readonly atS: number; readonly kind: string }[],
  durationS: number,
): (TimeRange & { on: boolean })[] {
  const turns = marks
    .filter(({ kind }) => kind === 'support-on' || kind === 'support-off')
    .sort((a, b) => a.atS - b.atS)
  return turns.map(({ atS, kind }, k) => ({
    fromS: atS,
    toS: turns[k + 1]?.atS ?? durationS,
    on: kind === 'support-on',
  }))
}
