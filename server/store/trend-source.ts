import type { SetUp } from '#protocol/resources'
import type { TrendMarker } from '#protocol/trends'
import type { MeasureName } from '#signal/trend/measures'
import type { TrendFigures } from '#signal/trend/trend-point'
import type { SessionState } from './records.ts'

/** What trends need to know of one session: figures of its analysis, never its report. */
export interface TrendRow {
  readonly id: string
  /** UTC µs; null for a session nobody dated. */
  readonly startedAtUs: number | null
  readonly state: SessionState
  readonly sensor: string
  readonly setUp: SetUp | null
  /** Those a measure needs; the others are null. */
  readonly figures: TrendFigures
  /** Why a person left it out. */
  readonly excludedReason: string | null
  /** The step the sensor stated, m/s². */
  readonly resolutionMs2: number | null
}

export interface TrendSource {
  /** All sessions of the dog, oldest first, with the figures of one measure. */
  rows(dogId: string, measure: MeasureName): Promise<TrendRow[]>
  /** Plans, medication, events, and mornings after on which the dog was tired or sore; oldest first. */
  markers(dogId: string): Promise<TrendMarker[]>
}
