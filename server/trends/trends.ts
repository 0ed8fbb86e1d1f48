import type { NewTrendSettings, TrendLine, TrendMarker, Trends } from '#protocol/trends'
import type { TrendRow } from '#server/store/trend-source'
import { TREND_MEASURES } from '#signal/trend/measures'
import type { MeasureName } from '#signal/trend/measures'
import { trendOf } from '#signal/trend/trend'
import { trendPointFrom } from '#signal/trend/trend-point'
import { FAMILIARISATION_WEEKS } from '#signal/trend/trend-sessions'
import { DAY_US, WEEK_US } from '#signal/trend/weekly'
import { ewmaOfTrend } from './ewma-of-trend.ts'
import { surfaceWord } from './familiarisation.ts'
import { isBelowSensor } from './sensor-steps.ts'
import { firstStandUs, sortRows } from './sort-rows.ts'
import type { Line, NotCompared, SortedRows } from './sort-rows.ts'

/** While nobody has said anything. */
export const DEFAULT_TREND_SETTINGS: NewTrendSettings = {
  familiar: [],
  withLookAlikes: [],
  baselineSessions: 5,
}

export interface TrendRequest {
  readonly dogId: string
  readonly measure: MeasureName
  /** Days in UTC, YYYY-MM-DD, both included; null for no limit. */
  readonly from: string | null
  readonly to: string | null
  /** Everything of an invented dog is simulated: then nothing is left out for being so. */
  readonly demo: boolean
  readonly settings: NewTrendSettings
  /** Sessions that are in no line are counted; so many of each reason are named, the newest. */
  readonly namedSessions: number
}

/**
 * The trends of a dog: one line per set-up and kind of sensor, most sessions first. `from` and `to` choose which
 * sessions the statistics are of, baseline included; the first stand on a surface is looked for in all of them.
 */
export function trendsOf(
  rows: readonly TrendRow[],
  markers: readonly TrendMarker[],
  request: TrendRequest,
): Trends {
  const { dogId, measure, from, to, demo, settings, namedSessions } = request
  const sorted = sortRows(rows, demo)
  const fromUs = from === null ? -Infinity : Date.parse(from) * 1000
  const toUs = to === null ? Infinity : Date.parse(to) * 1000 + DAY_US
  const within = (us: number) => us >= fromUs && us < toUs
  const lines = sorted.lines
    .map((line) => ({
      line: { ...line, rows: line.rows.filter((row) => within(row.startedAtUs)) },
      unstable: line.rows.findLast(({ setUp }) => setUp.unstable !== undefined)?.setUp.unstable,
    }))
    .filter(({ line }) => line.rows.length > 0)
    .map(({ line, unstable }) => trendLine(line, unstable, sorted, request))
  return {
    dogId,
    measure,
    label: TREND_MEASURES[measure].label,
    unit: TREND_MEASURES[measure].unit,
    lines: lines.sort((a, b) => b.sessionIds.length - a.sessionIds.length),
    markers: markers.filter(
      ({ kind, fromDate, untilDate }) =>
        (to === null || fromDate <= to) && (from === null || lastDay(kind, fromDate, untilDate) >= from),
    ),
    notCompared: counted(sorted.notCompared, namedSessions, (row) =>
      row.startedAtUs === null ? from === null && to === null : within(row.startedAtUs),
    ),
    from,
    to,
    baselineSessions: settings.baselineSessions,
  }
}

function trendLine(
  { key, sensor, rows }: Line,
  unstable: boolean | undefined,
  sorted: Pick<SortedRows, 'surfaceSinceUs'>,
  { measure, settings }: TrendRequest,
): TrendLine {
  const { setUp } = rows[rows.length - 1]
  const surface = surfaceWord(setUp.surface, unstable, settings.familiar.includes(key))
  const sinceUs = surface.familiarisation ? firstStandUs(sorted, setUp) : null
  const belowSensor: string[] = []
  const excludedBecause: Record<string, string> = {}
  const points = rows.map((row) => {
    const excluded = row.excludedReason !== null
    if (excluded) excludedBecause[row.id] = row.excludedReason
    const point = trendPointFrom(row.figures, { startedAtUs: row.startedAtUs, setUp: key, excluded }, measure)
    if (!isBelowSensor(row, measure)) return point
    belowSensor.push(row.id)
    return { ...point, value: null }
  })
  const trend = trendOf(points, {
    measure,
    unstableSurfaceSinceUs: sinceUs,
    baselineSessions: settings.baselineSessions,
    includeLookAlikes: settings.withLookAlikes.includes(key),
  })
  return {
    key,
    setUp,
    sensor,
    trend,
    // Rows come in order of their start, in which trendOf leaves equal ones as they are.
    sessionIds: rows.map(({ id }) => id),
    ewma: ewmaOfTrend(trend),
    ...(trend.baseline && { ewmaSigma: trend.baseline.sem }),
    familiarisation: sinceUs === null ? null : learningDays(sinceUs),
    familiarisationBasis: surface.basis,
    ...(belowSensor.length > 0 && { belowSensor }),
    ...(Object.keys(excludedBecause).length > 0 && { excludedBecause }),
  }
}

function learningDays(sinceUs: number): { fromDate: string; untilDate: string } {
  const day = (us: number) => new Date(us / 1000).toISOString().slice(0, 10)
  return { fromDate: day(sinceUs), untilDate: day(sinceUs + FAMILIARISATION_WEEKS * WEEK_US - DAY_US) }
}

/** Plans and medication without an end go on; events and mornings are of their day. */
function lastDay(kind: TrendMarker['kind'], fromDate: string, untilDate: string | null): string {
  if (untilDate !== null) return untilDate
  return kind === 'medication' ? '9999-12-31' : fromDate
}

function counted(
  notCompared: ReadonlyMap<TrendRow, NotCompared>,
  namedSessions: number,
  within: (row: TrendRow) => boolean,
): Trends['notCompared'] {
  const ids = new Map<NotCompared, string[]>()
  for (const [row, reason] of notCompared) {
    if (!within(row)) continue
    const list = ids.get(reason)
    if (list) list.push(row.id)
    else ids.set(reason, [row.id])
  }
  return [...ids].map(([reason, list]) => ({
    reason,
    sessions: list.length,
    sessionIds: list.slice(-namedSessions).reverse(),
  }))
}
