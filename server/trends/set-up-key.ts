import { createHash } from 'node:crypto'
import type { SetUp } from '#protocol/resources'
import type { TrendLine } from '#protocol/trends'

/** Letters and spaces as people type them: "Foam  pad" and "foam pad" are one surface. */
export function plainWords(text: string): string {
  return text.normalize('NFKC').trim().replace(/\s+/g, ' ').toLowerCase()
}

/**
 * Names the line of a set-up and a kind of sensor. Whether the surface gives is no part of it: that is said of
 * the same surface sooner or later.
 */
export function lineKey(setUp: SetUp, sensor: TrendLine['sensor']): string {
  const parts = [
    plainWords(setUp.exercise),
    plainWords(setUp.surface),
    setUp.heightCm ?? null,
    setUp.firmness ?? null,
    setUp.foreToHindCm ?? null,
    setUp.leftToRightCm ?? null,
    sensor,
  ]
  return createHash('sha256').update(JSON.stringify(parts)).digest('hex').slice(0, 16)
}

/** A phone's coarse steps are a trend line of their own. */
export function sensorKind(sensor: string): TrendLine['sensor'] {
  return sensor === 'phone' ? 'phone' : 'harness'
}
