import type { QualityReport } from '#signal/report-types'
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

export function sensorLimit(quality: QualityReport, sensor: string): SensorLimit | null {
  const stepMs2 = quality.resolutionMs2 ?? null
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

/** "under 82 mm/s²" */
export function underLimit(limit: SensorLimit, unit: AccelerationUnit): string {
  const { value, unit: shown } = acceleration(limit.swayMs2, unit)
  return `under ${value} ${shown}`
}
