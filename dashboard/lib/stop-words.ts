import type { LiveStop } from '#signal/live/live-types'
import type { StopLimits } from '#signal/live/stop-limits'
import { clock, decimal, percent } from './format'

export interface StopWords {
  /** What was measured and the limit it passed, one sentence. */
  reason: string
  /** Where the limit comes from. */
  basis: string
}

/** A stop cue in plain words. Never says that anything is fine, and never to do more. */
export function stopWords(
  stop: LiveStop,
  limits: Pick<StopLimits, 'basis'> | null,
  when: 'now' | 'then' = 'now',
): StopWords {
  return { reason: reasonWords(stop, when), basis: basisWords(limits?.basis) }
}

function reasonWords({ reason, value, limit }: LiveStop, when: 'now' | 'then'): string {
  switch (reason) {
    case 'session-cap':
      return `The session ${when === 'now' ? 'is' : 'was'} ${clock(value)} long; the limit is ${clock(limit)}.`
    case 'repetitions':
      return `Repetition ${decimal(value, 0)} has begun; the limit is ${decimal(limit, 0)}.`
    case 'sway': {
      // A limit that was passed must not read as one that was met.
      const digits = decimal(value, 1) === decimal(limit, 1) ? 3 : 1
      return `This hold sways ${decimal(value, digits)} times as much as the first; the limit is ${decimal(limit, 1)}.`
    }
    case 'short-hold':
      return `The last hold was ${percent(value)} as long as the first; the limit is ${percent(limit)}.`
    case 'support':
      return `Hands are on ${decimal(value * 100, 0)} percentage points more than at first; the limit is ${decimal(limit * 100, 0)}.`
  }
}

/** "Limit from plan version 3." */
export function basisWords(basis: string | undefined): string {
  return basis ? `Limit: ${basis}.` : 'Where the limit comes from is not known.'
}

/** Tells stop cues apart: the same reason may come again after a new quiet stand. */
export const stopKey = ({ reason, atS }: LiveStop): string => `${reason}@${atS}`
