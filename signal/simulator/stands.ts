import { SWAY_CUTOFF_HZ, SWAY_FILTER_ORDER } from '../constants.ts'
import { butterworthLowPass } from '../filter/butterworth.ts'
import { sosfiltfilt } from '../filter/zero-phase.ts'
import { BODY_RATE_HZ } from './body-motion.ts'
import type { AxisArrays } from './body-motion.ts'
import type { HoldEpisode } from './script.ts'
import type { PlacedEpisode } from './timeline.ts'
import type { EndedBy, HoldTruth, StableInterval, TimeSpan, TrueSway } from './truth.ts'

/** A stand between two transients with the episodes it is made of; times in seconds. */
export interface Stand extends TimeSpan {
  readonly parts: readonly PlacedEpisode[]
  readonly endedBy: EndedBy
}

/** The unbroken stands of a session; `transients[i]` is the lively span of episode i, null for stands. */
export function findStands(
  placed: readonly PlacedEpisode[],
  transients: readonly (TimeSpan | null)[],
): readonly Stand[] {
  const stands: Stand[] = []
  for (let first = 0; first < placed.length; first++) {
    if (transients[first] !== null) continue
    let next = first + 1
    while (next < placed.length && transients[next] === null) next++
    stands.push({
      fromS: first === 0 ? 0 : (transients[first - 1]?.toS ?? placed[first].fromS),
      toS: transients[next]?.fromS ?? placed[next - 1].toS,
      parts: placed.slice(first, next),
      endedBy: (placed[next]?.episode.kind as EndedBy | undefined) ?? 'end',
    })
    first = next
  }
  return stands
}

/** Sway of intervals of the session, from the noise-free specific force in dog axes on the body grid. */
export function createSwayTruth(force: AxisArrays): (span: TimeSpan) => TrueSway {
  const sos = butterworthLowPass(SWAY_FILTER_ORDER, SWAY_CUTOFF_HZ, BODY_RATE_HZ)
  const cc = sosfiltfilt(sos, centred(force.cc))
  const ml = sosfiltfilt(sos, centred(force.ml))
  return ({ fromS, toS }) => {
    const from = Math.ceil(fromS * BODY_RATE_HZ)
    const to = Math.ceil(toS * BODY_RATE_HZ)
    const swayRmsCc = ownRms(cc.subarray(from, to))
    const swayRmsMl = ownRms(ml.subarray(from, to))
    return { swayRmsHorizontal: Math.hypot(swayRmsCc, swayRmsMl), swayRmsCc, swayRmsMl }
  }
}

/** Stands as told in the truth: the intervals, and their parts of constant support. */
export function standTruth(
  stands: readonly Stand[],
  sway: (span: TimeSpan) => TrueSway,
): { stableIntervals: StableInterval[]; holds: HoldTruth[] } {
  const stableIntervals: StableInterval[] = []
  const holds: HoldTruth[] = []
  stands.forEach(({ fromS, toS, parts, endedBy }, stableInterval) => {
    const { episode } = parts[0]
    const surface = episode.kind === 'hold' ? episode.surface : 'floor'
    const place = episode.kind === 'hold' ? 'hold' : 'quiet-stand'
    stableIntervals.push({ fromS, toS, place, surface, endedBy, ...sway({ fromS, toS }) })
    if (place !== 'hold') return
    const groups = bySupport(parts)
    groups.forEach((group, index) => {
      const { support, surface: on } = group[0].episode as HoldEpisode
      const span = {
        fromS: index === 0 ? fromS : group[0].fromS,
        toS: index === groups.length - 1 ? toS : groups[index + 1][0].fromS,
      }
      const end = index === groups.length - 1 ? endedBy : 'support'
      holds.push({ ...span, support, surface: on, endedBy: end, stableInterval, ...sway(span) })
    })
  })
  return { stableIntervals, holds }
}

function bySupport(parts: readonly PlacedEpisode[]): PlacedEpisode[][] {
  const groups: PlacedEpisode[][] = []
  for (const part of parts) {
    const group = groups.at(-1)
    const same = group && (group[0].episode as HoldEpisode).support === (part.episode as HoldEpisode).support
    if (same) group.push(part)
    else groups.push([part])
  }
  return groups
}

function centred(x: Float64Array): Float64Array {
  let sum = 0
  for (const value of x) sum += value
  const mean = sum / x.length
  return x.map((value) => value - mean)
}

function ownRms(x: Float64Array): number {
  let sum = 0
  let squares = 0
  for (const value of x) {
    sum += value
    squares += value * value
  }
  return Math.sqrt(Math.max(0, squares / x.length - (sum / x.length) ** 2))
}
