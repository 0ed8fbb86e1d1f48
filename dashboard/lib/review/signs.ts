import type { FatigueSign, Stance } from '#protocol/session-review'

/** What a handler can see; common practice, no source. In the order of the form. */
export const FATIGUE_SIGNS: readonly FatigueSign[] = [
  'shuffling',
  'paw off',
  'arched back',
  'sagging back',
  'splayed stance',
  'narrowed stance',
  'trembling',
  'panting',
  'looking away',
  'refusing the treat',
]

export const STANCES: readonly Stance[] = ['square', 'hind feet tucked under', 'stretched', 'weight shifted']
