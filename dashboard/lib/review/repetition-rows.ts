import type { RepetitionNote } from '#protocol/session-review'
import type { RepetitionReport } from '#signal/report-types'

export interface RepetitionRow {
  /** Counts from 1. */
  readonly number: number
  readonly repetition: RepetitionReport
  /** Share of its hold time with hands off, 0..1; null when nobody marked it, or there is no hold. */
  readonly handsOffShare: number | null
  readonly notes: readonly RepetitionNote[]
}

/** Repetitions with the notes whose moment lies in them. */
export function repetitionRows(
  repetitions: readonly RepetitionReport[],
  notes: readonly RepetitionNote[],
): RepetitionRow[] {
  return repetitions.map((repetition, k) => ({
    number: k + 1,
    repetition,
    handsOffShare:
      repetition.handsOffS === null || repetition.holdS <= 0 ? null : repetition.handsOffS / repetition.holdS,
    notes: notes.filter(({ atS }) => isIn(atS, repetition)),
  }))
}

/** Notes whose moment lies in no repetition, such as those written between two. */
export const notesBetween = (
  repetitions: readonly RepetitionReport[],
  notes: readonly RepetitionNote[],
): RepetitionNote[] => notes.filter(({ atS }) => !repetitions.some((repetition) => isIn(atS, repetition)))

const isIn = (atS: number, { fromS, toS }: RepetitionReport) => atS >= fromS && atS < toS

/** "square; shuffling, panting; looked at the door" */
export const noteWords = ({
  stance,
  signs,
  note,
}: Pick<RepetitionNote, 'stance' | 'signs' | 'note'>): string =>
  [stance, signs.join(', '), note].filter((words) => words !== null && words !== '').join('; ')

/** The middle of what `values` say by Theil–Sen's slope, so that a line can be drawn: value at repetition 1. */
export function lineThrough(values: readonly number[], slope: number): number {
  const offsets = values.map((value, k) => value - slope * k).sort((a, b) => a - b)
  const middle = offsets.length >> 1
  return offsets.length % 2 ? offsets[middle] : (offsets[middle - 1] + offsets[middle]) / 2
}
