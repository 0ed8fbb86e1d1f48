import type { SessionSummary } from '#protocol/resources'
import { leastSwayMs2 } from '#signal/sway/least-sway'
import { acceleration } from './format'
import type { AccelerationUnit } from './format'

/** What the steps of a sensor hide; null for one that states no steps. */
export interface SensorLimit {
  readonly swayMs2: number
  readonly stepMs2: number
  /** "below what this phone can measure" */
  readonly words: string
}

/** Of whatever tells the step: the quality of a report, a session of a list, a sensor just now. */
export function sensorLimit(
  told: { readonly resolutionMs2?: number | undefined },
  sensor: string,
): SensorLimit | null {
  const stepMs2 = told.resolutionMs2 ?? null
  const swayMs2 = leastSwayMs2(stepMs2)
  if (swayMs2 === null || stepMs2 === null) return null
  return {
    swayMs2,
    stepMs2,
    words: `below what this ${sensor === 'phone' ? 'phone' : 'sensor'} can measure`,
  }
}

/** True for a sway that is told as "under …", never as its number: it would speak of the steps. */
export function isHidden(swayMs2: number, limit: SensorLimit | null): limit is SensorLimit {
  return limit !== null && swayMs2 < limit.swayMs2
}

/** True for a session whose sway to compare speaks of the steps of its sensor, not of the dog. */
export function isSwayHidden(session: SessionSummary): boolean {
  const { comparableSwayMs2, sensor } = session
  return comparableSwayMs2 !== null && isHidden(comparableSwayMs2, sensorLimit(session, sensor))
}

/** "under 82 mm/s²" */
export function underLimit(limit: SensorLimit, unit: AccelerationUnit): string {
  const { value, unit: shown } = acceleration(limit.swayMs2, unit)
  return `under ${value} ${shown}`
}
