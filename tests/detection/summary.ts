import { emptyScore, overlapS, quantile, score } from './match.ts'
import type { DetectionScore, Interval } from './match.ts'
import type { Detection } from './population.ts'

/** How well a group of recordings was detected. */
export interface Summary {
  readonly recordings: number
  readonly trueHolds: number
  /** Share of true stands of at least 2 s that were found. */
  readonly recall: number
  /** Share of the hands-off parts of stands, of at least 2 s, more than half of which lies in one found hold. */
  readonly handsOffRecall: number
  readonly falsePer30Min: number
  readonly edgeMedianS: number
  readonly edgeP95S: number
  readonly mountMedianDeg: number
  readonly mountP95Deg: number
  /** Led walks marked, and of those with a heading its error; NaN for none. */
  readonly walks: number
  readonly headings: number
  readonly headingMedianDeg: number
  readonly headingP95Deg: number
}

export function summarise(detections: readonly Detection[]): Summary {
  const total: DetectionScore = emptyScore()
  const angles: number[] = []
  const headings: number[] = []
  const handsOff = detections.flatMap((one) => one.handsOff)
  for (const { found, truth, also, durationS, mountErrorDeg, headingErrorDeg } of detections) {
    score(total, found, truth, also, durationS)
    if (mountErrorDeg !== null) angles.push(mountErrorDeg)
    if (headingErrorDeg !== null) headings.push(headingErrorDeg)
  }
  return {
    recordings: detections.length,
    trueHolds: total.trueHolds,
    recall: total.foundHolds / total.trueHolds,
    handsOffRecall: handsOff.filter(({ isFound }) => isFound).length / handsOff.length,
    falsePer30Min: (30 * total.falseHolds) / total.minutes,
    edgeMedianS: quantile(total.edgeErrorsS, 0.5),
    edgeP95S: quantile(total.edgeErrorsS, 0.95),
    mountMedianDeg: quantile(angles, 0.5),
    mountP95Deg: quantile(angles, 0.95),
    walks: detections.filter(({ population }) => population.session.truth.walks.length > 0).length,
    headings: headings.length,
    headingMedianDeg: headings.length > 0 ? quantile(headings, 0.5) : NaN,
    headingP95Deg: headings.length > 0 ? quantile(headings, 0.95) : NaN,
  }
}

/** Groups of recordings by what makes them hard; a recording is in one group of each kind. */
export function groupsOf({ population: { script, session } }: Detection): readonly string[] {
  const rhythms = (script.overlays ?? []).map(({ kind }) => kind)
  const lost = session.truth.lostSamples / (session.truth.lostSamples + session.trace.t.length)
  return [
    `rate ${script.rateHz <= 30 ? '25 Hz' : script.rateHz <= 60 ? '50–60 Hz' : '100–200 Hz'}`,
    rhythms.length === 0 ? 'no panting or wagging' : `with ${[...new Set(rhythms)].sort().join(' and ')}`,
    `packet loss ${lost === 0 ? 'none' : lost < 0.01 ? 'below 1 %' : '1–2 %'}`,
    session.truth.slip ? 'harness slips' : 'harness stays',
  ]
}

/** Edges of the groups of stands by the sway the dog really had, horizontal RMS, m/s². */
export const SWAY_GROUPS_MS2 = [0, 0.1, 0.2, 0.3, 0.4, Infinity] as const

/** The detections with only those true stands that swayed in a range; the others may be found without being false. */
export function withSway(
  detections: readonly Detection[],
  fromMs2: number,
  toMs2: number,
): readonly Detection[] {
  return detections.map((one) => {
    const { stableIntervals } = one.population.session.truth
    const isIn = (stand: Interval) => {
      const whole = stableIntervals.find((interval) => overlapS(interval, stand) > 0)!
      return whole.swayRmsHorizontal >= fromMs2 && whole.swayRmsHorizontal < toMs2
    }
    return {
      ...one,
      truth: one.truth.filter(isIn),
      also: [...one.also, ...one.truth.filter((stand) => !isIn(stand))],
      handsOff: one.handsOff.filter(isIn),
    }
  })
}
