import type { SessionSummary } from '#protocol/resources'
import type { NoiseLimits } from '#signal/trend/trend-types'
import { TREND_MEASURES } from '#signal/trend/measures'
import type { MeasureName } from '#signal/trend/measures'
import { newestFirst, playedKind, startOf } from '../session-order'
import { sameSetUp } from '../set-up'

/** What two sessions are compared by, in the order shown. */
export const COMPARED: readonly MeasureName[] = [
  'swayRms',
  'tremorRms',
  'bestHoldS',
  'handsOffHoldS',
  'supportShare',
]

const VALUE_OF: Partial<Record<MeasureName, (session: SessionSummary) => number | null>> = {
  swayRms: (session) => session.comparableSwayMs2,
  tremorRms: (session) => session.comparableTremorMs2,
  bestHoldS: (session) => session.bestHoldS,
  handsOffHoldS: (session) => session.handsOffHoldS,
  supportShare: (session) => session.supportShare,
}

/** A phone's coarse steps make it a sensor of its own; what was played is compared with what was played. */
const sensorKind = ({ sensor }: SessionSummary) =>
  playedKind(sensor) ?? (sensor === 'phone' ? 'phone' : 'harness')

/** The other sessions on the same set-up with the same kind of sensor, newest first. */
export function sessionsLike(session: SessionSummary, sessions: readonly SessionSummary[]): SessionSummary[] {
  const { setUp } = session
  if (!setUp) return []
  return newestFirst(sessions).filter(
    (other) =>
      other.id !== session.id &&
      other.state === 'finished' &&
      other.setUp !== null &&
      sameSetUp(other.setUp, setUp) &&
      sensorKind(other) === sensorKind(session),
  )
}

/** The newest of them before this one; undefined when this is the first. */
export const previousOf = (session: SessionSummary, alike: readonly SessionSummary[]) =>
  alike.find((other) => Date.parse(startOf(other)) < Date.parse(startOf(session)))

export interface ComparedFigure {
  readonly measure: MeasureName
  readonly label: string
  readonly now: number | null
  readonly before: number | null
  /** In % for sway and tremor, else in the unit of the measure; null when one of the two is missing. */
  readonly difference: number | null
  readonly isRatio: boolean
  /** Changes that noise alone stays between; null while it is not known. */
  readonly noise: NoiseLimits | null
  readonly beyondNoise: boolean | null
}

/** Weir's MDC₉₅ of the line both sessions are on says what noise alone does; without a baseline nothing does. */
export function comparedFigures(
  session: SessionSummary,
  before: SessionSummary,
  noiseOf: (measure: MeasureName) => NoiseLimits | null,
): ComparedFigure[] {
  return COMPARED.map((measure) => {
    const { label, scale } = TREND_MEASURES[measure]
    const isRatio = scale === 'log'
    const now = VALUE_OF[measure]?.(session) ?? null
    const earlier = VALUE_OF[measure]?.(before) ?? null
    const difference = differenceOf(now, earlier, isRatio)
    const noise = noiseOf(measure)
    const beyondNoise =
      difference === null || noise === null ? null : difference < noise.fall || difference > noise.rise
    return { measure, label, now, before: earlier, difference, isRatio, noise, beyondNoise }
  })
}

function differenceOf(now: number | null, before: number | null, isRatio: boolean): number | null {
  if (now === null || before === null) return null
  if (!isRatio) return now - before
  return before > 0 ? (now / before - 1) * 100 : null
}
