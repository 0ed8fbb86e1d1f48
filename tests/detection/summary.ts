import { emptyScore, quantile, score } from './match.ts'
import type { DetectionScore } from './match.ts'
import type { Detection } from './population.ts'

/** How well a group of recordings was detected. */
export interface Summary {
  readonly recordings: number
  readonly trueHolds: number
  /** Share of true stands of at least 2 s that were found. */
  readonly recall: number
  readonly falsePer30Min: number
  readonly edgeMedianS: number
  readonly edgeP95S: number
  readonly mountMedianDeg: number
  readonly mountP95Deg: number
}

export function summarise(detections: readonly Detection[]): Summary {
  const total: DetectionScore = emptyScore()
  const angles: number[] = []
  for (const { found, truth, also, durationS, mountErrorDeg } of detections) {
    score(total, found, truth, also, durationS)
    if (mountErrorDeg !== null) angles.push(mountErrorDeg)
  }
  return {
    recordings: detections.length,
    trueHolds: total.trueHolds,
    recall: total.foundHolds / total.trueHolds,
    falsePer30Min: (30 * total.falseHolds) / total.minutes,
    edgeMedianS: quantile(total.edgeErrorsS, 0.5),
    edgeP95S: quantile(total.edgeErrorsS, 0.95),
    mountMedianDeg: quantile(angles, 0.5),
    mountP95Deg: quantile(angles, 0.95),
  }
}

/** Groups of recordings by what makes them hard; a recording is in one group of each kind. */
export function groupsOf(detection: Detection): readonly string[] {
  const { script, session } = detection.population
  const sway = Math.max(...script.episodes.map((one) => (one.kind === 'hold' ? (one.swayMs2 ?? 0) : 0)))
  const rhythms = (script.overlays ?? []).map(({ kind }) => kind)
  const lost = session.truth.lostSamples / (session.truth.lostSamples + session.trace.t.length)
  return [
    `rate ${script.rateHz <= 30 ? '25 Hz' : script.rateHz <= 60 ? '50–60 Hz' : '100–200 Hz'}`,
    `sway ${sway < 0.1 ? 'below 0.1' : sway < 0.2 ? '0.1–0.2' : 'above 0.2'} m/s²`,
    rhythms.length === 0 ? 'no panting or wagging' : `with ${[...new Set(rhythms)].sort().join(' and ')}`,
    `packet loss ${lost === 0 ? 'none' : lost < 0.01 ? 'below 1 %' : '1–2 %'}`,
    session.truth.slip ? 'harness slips' : 'harness stays',
  ]
}
