import type { TrendLine, TrendMarker, Trends } from '#protocol/trends'
import type { LeftOut, TrendPart } from '#signal/trend/trend-sessions'
import { setUpWords } from '../wording'

export const partWords: Record<TrendPart, string> = {
  baseline: 'baseline',
  later: 'later',
  newest: 'newest',
  familiarisation: 'familiarisation',
  'left out': 'left out',
}

const leftOutWords: Record<LeftOut, string> = {
  'excluded by a person': 'set aside by a person',
  weak: 'too little hold time: fewer than two pieces of 5 s',
  'look-alike': 'panting, wagging or handling that can pass for tremor',
  'no value': 'the recording does not support this measure',
  'other hold time': 'measured on other hold time (hands-off or all) than most',
}

/** Why a session of a line does not count; null when it does. */
export function leftOutReason(line: TrendLine, k: number): string | null {
  const { leftOut } = line.trend.sessions[k]
  if (leftOut === null) return null
  const id = line.sessionIds[k]
  if (line.belowSensor?.includes(id)) return 'below what the steps of the sensor let it measure'
  const because = line.excludedBecause?.[id]
  return because ? `${leftOutWords[leftOut]}: ${because}` : leftOutWords[leftOut]
}

export const notComparedWords: Record<Trends['notCompared'][number]['reason'], string> = {
  'no set-up noted': 'nobody noted the set-up, and only like set-ups can be compared',
  'no date': 'the date is not known',
  'played or simulated': 'simulated, or a trace played again: no measurement of this dog',
  'not analysed': 'being recorded, or could not be analysed',
}

export const markerWords: Record<TrendMarker['kind'], string> = {
  plan: 'Plan',
  medication: 'Medication',
  event: 'Event',
  'check-in': 'Tired or sore',
}

/** "stand, foam pad, 45 cm fore to hind, 6 cm high; phone" */
export function lineWords({ setUp, sensor }: Pick<TrendLine, 'setUp' | 'sensor'>): string {
  return sensor === 'phone' ? `${setUpWords(setUp)}; by phone` : setUpWords(setUp)
}

/** "1 session", "12 sessions" */
export const sessionCount = (count: number) => `${count} ${count === 1 ? 'session' : 'sessions'}`

/** The sentence starts with a capital letter. */
export const capital = (text: string) => text[0].toUpperCase() + text.slice(1)
