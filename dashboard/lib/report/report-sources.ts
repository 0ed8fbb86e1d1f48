import type { DiaryEntry } from '#protocol/diary'
import type { DoseWeek } from '#protocol/dose-types'
import type { Dog, Plan, SessionSummary } from '#protocol/resources'
import type { RepetitionNote } from '#protocol/session-review'
import type { Trends } from '#protocol/trends'
import type { MeasureName } from '#signal/trend/measures'

/** The measures a report tells the course of, in the order of its tables. */
export const REPORT_MEASURES = [
  'swayRms',
  'tremorRms',
  'handsOffHoldS',
  'bestHoldS',
  'supportShare',
] as const satisfies readonly MeasureName[]
export type ReportMeasure = (typeof REPORT_MEASURES)[number]

/** Everything a report is made of, for one dog and one period. */
export interface ReportSources {
  readonly dog: Dog
  /** Newest first, all versions. */
  readonly plans: readonly Plan[]
  /** All of the dog. */
  readonly sessions: readonly SessionSummary[]
  /** Of the sessions of the period. */
  readonly trends: Readonly<Record<ReportMeasure, Trends>>
  /** Weeks that touch the period, oldest first. */
  readonly weeks: readonly DoseWeek[]
  readonly diary: readonly DiaryEntry[]
  /** Of the sessions of the period, by the session's id. */
  readonly notes: ReadonlyMap<string, readonly RepetitionNote[]>
}
