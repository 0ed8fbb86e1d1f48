import type { Episode, SessionScript } from './script.ts'

export interface PlacedEpisode {
  readonly episode: Episode
  readonly fromS: number
  readonly toS: number
  /** Counted from 1 at each step-up; 0 before the first. */
  readonly repetition: number
}

/** Shortest episodes that leave room for the motion in them, s. */
const MIN_DURATION_S: Readonly<Record<Episode['kind'], number>> = {
  'quiet-stand': 0.5,
  walk: 2,
  'step-up': 0.8,
  hold: 0.5,
  step: 0.25,
  'wobble-off': 0.6,
  'step-down': 0.6,
  sit: 3,
  lie: 4,
  rest: 1,
  handling: 1,
}

/**
 * The episodes with their times in seconds from the start.
 * @throws {RangeError} when an episode is too short for its motion, or a hold touches a quiet stand
 */
export function placeEpisodes(script: Pick<SessionScript, 'episodes'>): readonly PlacedEpisode[] {
  if (script.episodes.length === 0) throw new RangeError('simulateSession requires at least one episode')
  let fromS = 0
  let repetition = 0
  return script.episodes.map((episode, index) => {
    const { kind, durationS } = episode
    if (!(durationS >= MIN_DURATION_S[kind])) {
      throw new RangeError(
        `${kind} (episode ${index}) requires durationS >= ${MIN_DURATION_S[kind]}, got ${durationS}`,
      )
    }
    const before = script.episodes[index - 1]?.kind
    if ((kind === 'hold' && before === 'quiet-stand') || (kind === 'quiet-stand' && before === 'hold')) {
      throw new RangeError(`episode ${index}: a hold and a quiet stand need a transient between them`)
    }
    if (kind === 'step-up') repetition++
    const placed = { episode, fromS, toS: fromS + durationS, repetition }
    fromS += durationS
    return placed
  })
}
