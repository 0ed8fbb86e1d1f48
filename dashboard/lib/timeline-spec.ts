import type { Timeline } from '#protocol/resources'
import type { HoldReport } from '#signal/report-types'
import { axisTicks, tickDecimals } from './axis-ticks'
import { accelerationScale, decimal } from './format'
import type { AccelerationUnit } from './format'
import type { ShownHold } from './review/shown-holds'
import type { ChartInstant, ChartShade, TimeChartSpec } from './time-chart'
import type { TimeRange } from './time-range'

export const MARK_GLYPHS: Record<string, string> = {
  'support-on': '▼',
  'support-off': '△',
  'repetition-start': '⟦',
  'repetition-end': '⟧',
  'quiet-stand-start': '[',
  'quiet-stand-end': ']',
  note: '✎',
}

type Callbacks = Pick<TimeChartSpec, 'onRange' | 'onInstant'>

/** Holds first, so that the place of a hold is the place of its shade; then gaps, and what cannot be read any more. */
export function shadesOf(
  gaps: Timeline['gaps'],
  holds: readonly ShownHold[],
  unreadable: readonly TimeRange[] = [],
): ChartShade[] {
  return [
    ...holds.map(({ fromS, toS, role, index, leftOut }) => ({
      fromS,
      toS,
      kind: leftOut ? ('left out' as const) : ('hold' as const),
      label:
        index === null || leftOut ? '' : role === 'quiet stand' ? `${index + 1}, floor` : String(index + 1),
    })),
    ...gaps.map((gap) => ({ ...gap, kind: 'gap' as const, label: '' })),
    ...unreadable.map(({ fromS, toS }) => ({ fromS, toS, kind: 'unreadable' as const, label: '' })),
  ]
}

export function instantsOf(marks: readonly { atS: number; kind: string }[]): ChartInstant[] {
  return marks
    .filter((mark) => mark.kind in MARK_GLYPHS)
    .map((mark) => ({ atS: mark.atS, glyph: MARK_GLYPHS[mark.kind] }))
}

/** The size below which this share of the values lies; 1 when there are none. */
function quantile(values: readonly (number | null)[], share: number): number {
  const sizes = values.filter((value): value is number => value !== null).map(Math.abs)
  sizes.sort((a, b) => a - b)
  return sizes[Math.floor(share * (sizes.length - 1))] || 1
}

/** Three lanes (ML, CC, DV) of min–max motion on one common scale, one above the other. */
export function motionSpec(timeline: Timeline, callbacks: Callbacks): TimeChartSpec {
  const { ml, cc, dv } = timeline.overview
  // A knock must not flatten everything else: what is larger leaves its lane.
  const peak = quantile([ml.min, ml.max, cc.min, cc.max, dv.min, dv.max].flat(), 0.985)
  const laneHeight = 2.2 * peak
  const names = timeline.headingResolved ? ['ML', 'CC', 'DV'] : ['H1', 'H2', 'DV']
  const lane = (values: (number | null)[], k: number) =>
    values.map((v) =>
      v === null ? null : (1 - k) * laneHeight + Math.max(-1.1 * peak, Math.min(1.1 * peak, v)),
    )
  const colors = ['--ml', '--cc', '--dv']
  return {
    timesS: Float64Array.from(ml.min, (_, k) => (k + 0.5) * timeline.bucketS),
    series: [ml, cc, dv].flatMap((axis, k) => [
      { values: lane(axis.max, k), color: colors[k] },
      { values: lane(axis.min, k), color: colors[k] },
    ]),
    bands: [
      [0, 1],
      [2, 3],
      [4, 5],
    ],
    y: {
      min: -1.5 * laneHeight,
      max: 1.5 * laneHeight,
      ticks: names.map((label, k) => ({ at: (1 - k) * laneHeight, label })),
    },
    heightPx: 300,
    durationS: timeline.durationS,
    ...callbacks,
  }
}

/** Sway and tremor over time. */
export function courseSpec(
  timeline: Timeline,
  holds: readonly HoldReport[],
  unit: AccelerationUnit,
  callbacks: Callbacks,
): TimeChartSpec {
  const { factor } = accelerationScale(unit)
  const { stepS, swayMs2, tremorMs2 } = timeline.course
  const scaled = (values: (number | null)[]) =>
    values.map((value) => (value === null ? null : value * factor))
  // What matters happens in holds: the steps between them may leave the top of the picture.
  const inHolds = swayMs2.filter((_, k) => {
    const atS = (k + 0.5) * stepS
    return holds.some((hold) => hold.fromS <= atS && atS < hold.toS)
  })
  const most = (inHolds.length > 0 ? 5 * quantile(inHolds, 0.5) : quantile(swayMs2, 0.985)) * factor
  const ticks = axisTicks(0, most, 5)
  return {
    timesS: Float64Array.from(swayMs2, (_, k) => (k + 0.5) * stepS),
    series: [
      { values: scaled(swayMs2), color: '--ml' },
      { values: scaled(tremorMs2), color: '--cc', dash: [6, 4] },
    ],
    bands: [],
    y: {
      min: 0,
      max: most,
      ticks: ticks.map((at) => ({ at, label: decimal(at, tickDecimals(ticks)) })),
    },
    heightPx: 190,
    durationS: timeline.durationS,
    ...callbacks,
  }
}
