import type { ExplainedGroup } from './explained'
import { holdWords } from './hold-words'
import { swayWords } from './sway-words'
import { tremorWords } from './tremor-words'
import { trustWords } from './trust-words'

/** Every measure the screens show, in the order they are read. */
export const GROUPS: readonly ExplainedGroup[] = [
  { id: 'standing', title: 'Standing', measures: holdWords },
  { id: 'swaying', title: 'Swaying', measures: swayWords },
  { id: 'trembling', title: 'Trembling and tiring', measures: tremorWords },
  { id: 'trusting', title: 'How far to trust a number', measures: trustWords },
]
