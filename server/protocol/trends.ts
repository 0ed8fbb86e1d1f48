import { Type } from 'typebox'
import type { Static } from 'typebox'
import type { EwmaChart } from '#signal/trend/ewma'
import type { MeasureName } from '#signal/trend/measures'
import type { Trend } from '#signal/trend/trend-types'
import type { SetUp } from './resources.ts'

/** A person's word on how the trends of a dog are read. GET and PUT /api/dogs/:dogId/trend-settings (If-Match). */
export const NewTrendSettings = Type.Object(
  {
    /** Keys of lines whose surface the dog knew before its first session here: no familiarisation. */
    familiar: Type.Array(Type.String({ maxLength: 64 }), { maxItems: 200, uniqueItems: true }),
    /** Keys of lines whose sessions with a look-alike of tremor count all the same. */
    withLookAlikes: Type.Array(Type.String({ maxLength: 64 }), { maxItems: 200, uniqueItems: true }),
    /** Sessions that make a baseline. */
    baselineSessions: Type.Integer({ minimum: 3, maximum: 50 }),
  },
  { additionalProperties: false },
)
export type NewTrendSettings = Static<typeof NewTrendSettings>

/** Version 0 until somebody has set any. */
export const TrendSettings = Type.Object({ ...NewTrendSettings.properties, version: Type.Integer() })
export type TrendSettings = Static<typeof TrendSettings>

/** One set-up recorded with one kind of sensor: the only sessions that are compared. */
export interface TrendLine {
  /** Names the line within its dog; the same set-up and kind of sensor give the same key. */
  key: string
  setUp: SetUp
  /** A phone's coarse steps are a trend line of their own. */
  sensor: 'harness' | 'phone'
  trend: Trend
  /** Ids of `trend.sessions`, in the same order. */
  sessionIds: string[]
  /** Of the sessions that count, in the unit of the measure (back from the logarithm); null without a baseline. */
  ewma:
    (Pick<EwmaChart, 'outside'> & { ewma: number[]; low: number[]; high: number[]; target: number }) | null
  /**
   * One standard deviation of the EWMA limits: that of the baseline sessions, in the unit of the measure, or of
   * its natural logarithm on a log scale.
   */
  ewmaSigma?: number
  /** Whether the first weeks on this surface are taken as familiarisation, and why; both days included. */
  familiarisation: { fromDate: string; untilDate: string } | null
  familiarisationBasis: string
  /** Sessions whose value says more of the steps of the sensor than of the dog: without a value in `trend`. */
  belowSensor?: string[]
  /** Why people left sessions out, by session id. */
  excludedBecause?: Record<string, string>
}

export interface TrendMarker {
  kind: 'plan' | 'medication' | 'event' | 'check-in'
  /** YYYY-MM-DD. */
  fromDate: string
  /** For what lasts; null for a day, or for what goes on. */
  untilDate: string | null
  words: string
  /** Of a check-in: the session it speaks of. */
  sessionId?: string
}

/** GET /api/dogs/:dogId/trends?measure=… ; the same rows as CSV at trends.csv. */
export interface Trends {
  dogId: string
  measure: MeasureName
  label: string
  /** Unit of the values. */
  unit: string
  /** Most sessions first. */
  lines: TrendLine[]
  markers: TrendMarker[]
  /** Sessions that are in no line, and why. */
  notCompared: {
    reason: 'no set-up noted' | 'no date' | 'played or simulated' | 'not analysed'
    sessions: number
    /** The newest of them. */
    sessionIds?: string[]
  }[]
  /** Days the answer was asked for, both included; null for no limit. The statistics are of these alone. */
  from?: string | null
  to?: string | null
  /** Sessions that make a baseline. */
  baselineSessions?: number
}
