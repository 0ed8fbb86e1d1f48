import type { Mark, MarkKind } from '../trace/trace.ts'
import type { Random } from './random.ts'
import type { SessionScript, Support } from './script.ts'
import type { Stand } from './stands.ts'
import type { PlacedEpisode } from './timeline.ts'
import type { TimeSpan } from './truth.ts'

/** The repetitions: from each step-up to the end of the step-down or wobble-off after it, or of the session. */
export function findRepetitions(placed: readonly PlacedEpisode[]): readonly TimeSpan[] {
  const out: TimeSpan[] = []
  placed.forEach(({ episode, fromS }, index) => {
    if (episode.kind !== 'step-up') return
    const rest = placed.slice(index + 1)
    const end = rest.find((next) => ['step-down', 'wobble-off', 'step-up'].includes(next.episode.kind))
    const toS =
      end === undefined ? placed[placed.length - 1].toS : end.episode.kind === 'step-up' ? end.fromS : end.toS
    out.push({ fromS, toS })
  })
  return out
}

/**
 * What a person would have marked, ascending. Quiet stands and walks are timed by the recorder and
 * exact; support and repetition taps carry the script's delay.
 */
export function sessionMarks(
  script: SessionScript,
  placed: readonly PlacedEpisode[],
  stands: readonly Stand[],
  random: Random,
): readonly Mark[] {
  if (script.marks === 'none') return []
  const timing = script.marks === undefined || script.marks === 'exact' ? { lagS: 0, sdS: 0 } : script.marks
  const lastS = placed[placed.length - 1].toS
  const marks: Mark[] = []
  const exact = (atS: number, kind: MarkKind): void => {
    marks.push({ atS, kind })
  }
  const tapped = (atS: number, kind: MarkKind): void => {
    const lagS = timing.sdS > 0 ? Math.max(0, timing.lagS + timing.sdS * random.normal()) : timing.lagS
    if (atS + lagS < lastS) marks.push({ atS: atS + lagS, kind })
  }
  for (const { fromS, toS, parts } of stands) {
    if (parts[0].episode.kind !== 'quiet-stand') continue
    exact(Math.max(fromS, parts[0].fromS), 'quiet-stand-start')
    exact(Math.min(toS, parts[parts.length - 1].toS), 'quiet-stand-end')
  }
  for (const { fromS, toS } of findRepetitions(placed)) {
    tapped(fromS, 'repetition-start')
    tapped(toS, 'repetition-end')
  }
  let support: Support | null = null
  for (const { episode, fromS, toS } of placed) {
    if (episode.kind === 'walk') {
      exact(fromS, 'walk-start')
      exact(toS, 'walk-end')
    }
    const now = supportDuring(episode.kind === 'hold' ? episode.support : episode.kind)
    if (now === null || now === support) continue
    tapped(fromS, now === 'hands-on' ? 'support-on' : 'support-off')
    support = now
  }
  return marks.sort((a, b) => a.atS - b.atS)
}

/** The handler's hands in an episode; null where they stay as they were. */
function supportDuring(kind: Support | PlacedEpisode['episode']['kind']): Support | null {
  if (kind === 'hands-off' || kind === 'quiet-stand') return 'hands-off'
  if (kind === 'hands-on' || kind === 'step-up' || kind === 'step-down' || kind === 'wobble-off')
    return 'hands-on'
  return null
}
