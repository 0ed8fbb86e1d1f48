import type { Timeline } from '#protocol/resources'
import type { HoldReport } from '#signal/report-types'
import type { TimeRange } from './time-range'
import { markWords } from './wording'

export interface TimelineRow {
  fromS: number
  toS: number
  /** Medians over the row, m/s². */
  swayMs2: number | null
  tremorMs2: number | null
  /** "hold 2", "signal gap", "hands-off", in order of time. */
  events: string[]
}

/** About this many rows, on whole multiples of 5 s. */
const ROWS = 40

/** The timeline as rows of equal length, for reading without the picture. */
export function timelineRows(
  timeline: Timeline,
  holds: readonly HoldReport[],
  unreadable: readonly TimeRange[] = [],
): TimelineRow[] {
  const rowS = Math.max(5, Math.ceil(timeline.durationS / ROWS / 5) * 5)
  const rows: TimelineRow[] = []
  for (let fromS = 0; fromS < timeline.durationS; fromS += rowS) {
    const toS = Math.min(fromS + rowS, timeline.durationS)
    const begins = (atS: number) => atS >= fromS && atS < toS
    const events = [
      ...holds.flatMap((hold, k) => [
        { atS: hold.fromS, text: `hold ${k + 1} begins${byWhom(hold)}` },
        { atS: hold.toS, text: `hold ${k + 1} ends${byWhom(hold)}` },
      ]),
      ...timeline.gaps.map((gap) => ({ atS: gap.fromS, text: 'signal gap' })),
      ...unreadable.flatMap((part) => [
        { atS: part.fromS, text: 'from here the stored samples cannot be read any more' },
        { atS: part.toS, text: 'from here they can' },
      ]),
      ...timeline.marks.map((mark) => ({
        atS: mark.atS,
        text: mark.note ?? markWords[mark.kind] ?? mark.kind,
      })),
    ]
    rows.push({
      fromS,
      toS,
      swayMs2: medianBetween(timeline.course.swayMs2, timeline.course.stepS, fromS, toS),
      tremorMs2: medianBetween(timeline.course.tremorMs2, timeline.course.stepS, fromS, toS),
      events: events
        .filter((event) => begins(event.atS))
        .sort((a, b) => a.atS - b.atS)
        .map((event) => event.text),
    })
  }
  return rows
}

const byWhom = ({ setBy }: HoldReport) => (setBy === 'person' ? ' (set by a person)' : '')

function medianBetween(values: readonly (number | null)[], stepS: number, fromS: number, toS: number) {
  const inside = values
    .slice(Math.ceil(fromS / stepS), Math.ceil(toS / stepS))
    .filter((value): value is number => value !== null)
    .sort((a, b) => a - b)
  if (inside.length === 0) return null
  const middle = inside.length >> 1
  return inside.length % 2 ? inside[middle] : (inside[middle - 1] + inside[middle]) / 2
}
