import type { SessionSummary, SetUp } from '#protocol/resources'
import type { HoldEnd, HoldReport } from '#signal/report-types'
import { shortLength, spacing } from './format'
import { bodyUnits } from './preferences.svelte'

export const qualityWords = {
  good: 'Good recording',
  usable: 'Usable, with limits',
  poor: 'Poor: few measures can be trusted',
} as const

export const endWords: Record<HoldEnd, string> = {
  step: 'a step',
  tilt: 'tilt (sat or leaned)',
  'signal lost': 'signal lost',
  'end of recording': 'end of recording',
  interval: 'end of the chosen interval',
}

/** What ended a hold: of a corrected one, a person did. */
export const endOf = ({ endedBy, setBy }: Pick<HoldReport, 'endedBy' | 'setBy'>): string =>
  setBy === 'person' && endedBy === 'interval' ? 'set by a person' : endWords[endedBy]

export const markWords: Record<string, string> = {
  'support-on': 'hands-on',
  'support-off': 'hands-off',
  'repetition-start': 'repetition starts',
  'repetition-end': 'repetition ends',
  'quiet-stand-start': 'quiet stand starts',
  'quiet-stand-end': 'quiet stand ends',
  'walk-start': 'walk starts',
  'walk-end': 'walk ends',
  note: 'note',
}

export const stateWords: Record<SessionSummary['state'], string> = {
  recording: 'recording now',
  analysing: 'being analysed',
  finished: 'finished',
  failed: 'could not be analysed',
}

/** Of a session without a noted set-up. */
export const NO_SET_UP = 'set-up not noted'

/** "stand on foam pad, foam pad, 45 cm fore to hind, 8 cm high, soft, unstable", or that nobody said. */
export function setUpWords(setUp: SessionSummary['setUp']): string {
  if (!setUp) return NO_SET_UP
  return [setUp.exercise, setUp.surface, ...spacingWords(setUp), ...surfaceWords(setUp)].join(', ')
}

/** The distances of a set-up that somebody gave, fore to hind first. */
export function spacingWords({ foreToHindCm, leftToRightCm }: SetUp, units = bodyUnits.value): string[] {
  return [
    foreToHindCm === undefined ? null : `${spacing(foreToHindCm, units)} fore to hind`,
    leftToRightCm === undefined ? null : `${spacing(leftToRightCm, units)} left to right`,
  ].filter((words): words is string => words !== null)
}

/** Height, firmness and stability of a surface, as far as somebody gave them. */
export function surfaceWords({ heightCm, firmness, unstable }: SetUp, units = bodyUnits.value): string[] {
  return [
    heightCm === undefined ? null : heightCm === 0 ? 'on the floor' : `${shortLength(heightCm, units)} high`,
    firmness ?? null,
    unstable === undefined ? null : unstable ? 'unstable' : 'stable',
  ].filter((words): words is string => words !== null)
}

/** What the axes are called: dog axes when the heading is known, plain horizontal ones otherwise. */
export function axisNames(headingResolved: boolean) {
  return headingResolved
    ? { ml: 'ML, side to side', cc: 'CC, front to back', dv: 'DV, up and down' }
    : { ml: 'H1, horizontal', cc: 'H2, horizontal', dv: 'DV, up and down' }
}
