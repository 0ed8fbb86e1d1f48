import type { DoseAdvice } from '#protocol/dose-types'
import type { DoseInput } from '#protocol/dose-weeks'
import type { CheckIn, Plan, SessionSummary } from '#protocol/resources'

export type Answer = CheckIn['answer']
export const ANSWERS: readonly { answer: Answer; words: string }[] = [
  { answer: 'better', words: 'Better than usual' },
  { answer: 'normal', words: 'Normal' },
  { answer: 'tired', words: 'Tired' },
  { answer: 'sore', words: 'Sore' },
]

/** Of a line of advice: what it comes down to. */
export const ADVICE_TITLES: Record<DoseAdvice['kind'], string> = {
  rest: 'Rest',
  'cut back': 'Cut back',
  ask: 'Ask',
  'check in': 'Check in',
}

/** The time zone of this device, in which days and weeks are counted. */
export const ownTimeZone = () => Intl.DateTimeFormat().resolvedOptions().timeZone

/** What ledger and advice are found from, with or without a network. */
export function doseInput(
  sessions: readonly SessionSummary[],
  plans: readonly Plan[],
  { demo, now = new Date() }: { demo: boolean; now?: Date },
): DoseInput {
  return { sessions, plans, timeZone: ownTimeZone(), now, played: demo }
}
