import type { CheckIn, Plan, SessionSummary } from '#protocol/resources'
import { clock, decimal } from './format'
import { newestFirst, playedKind, startOf } from './session-order'
import { PLAN_BASIS, PRACTICE_BASIS } from './basis'

export type Answer = CheckIn['answer']
export const ANSWERS: readonly { answer: Answer; words: string }[] = [
  { answer: 'better', words: 'Better than usual' },
  { answer: 'normal', words: 'Normal' },
  { answer: 'tired', words: 'Tired' },
  { answer: 'sore', words: 'Sore' },
]

/** A session is asked about from the day after it on, and for this many days. */
const ASKED_FOR_DAYS = 7
/** Answers looked back on for "again and again". */
const LOOK_BACK = 4

export interface Advice {
  text: string
  basis: string
}

/** The newest real session of an earlier day that nobody has checked in on; null when none is missing. */
export function missingCheckIn(
  sessions: readonly SessionSummary[],
  now: Date,
  options: { simulated?: boolean } = {},
): SessionSummary | null {
  const midnight = new Date(now.getFullYear(), now.getMonth(), now.getDate())
  const oldest = midnight.getTime() - ASKED_FOR_DAYS * 86_400_000
  const last = asked(sessions, options).find((session) => new Date(startOf(session)) < midnight)
  if (!last || last.checkIn !== null || Date.parse(startOf(last)) < oldest) return null
  return last
}

function asked(sessions: readonly SessionSummary[], options: { simulated?: boolean }): SessionSummary[] {
  return newestFirst(sessions).filter(
    (session) =>
      session.startedAt !== null &&
      session.state !== 'recording' &&
      (options.simulated || playedKind(session.sensor) === null),
  )
}

/** Mornings after which less is due. */
export const isTroubled = (answer: Answer) => answer === 'tired' || answer === 'sore'

/** The newest answer that was given, with how many of the last four were "tired" or "sore". */
export function lastCheckIn(
  sessions: readonly SessionSummary[],
): { answer: Answer; troubled: number; session: SessionSummary } | null {
  const answered = newestFirst(sessions).filter((session) => session.checkIn !== null)
  const answers = answered.slice(0, LOOK_BACK).map((session) => session.checkIn!.answer)
  if (answers.length === 0) return null
  return {
    answer: answers[0],
    troubled: answers.filter(isTroubled).length,
    session: answered[0],
  }
}

/**
 * What to do after "tired" or "sore": less, in the plan's own numbers, and ask. Nothing after "normal" or "better":
 * a good morning is no reason to do more than the plan.
 */
export function checkInAdvice(
  last: { answer: Answer; troubled: number } | null,
  plan: Pick<Plan, 'sessionCapS' | 'exercises' | 'version'> | null,
): Advice[] {
  if (!last || !isTroubled(last.answer)) return []
  const advice: Advice[] =
    last.answer === 'sore'
      ? [
          {
            text: 'Do not train a sore dog. Ask the therapist or the vet before the next session.',
            basis: PRACTICE_BASIS,
          },
          { text: `When they say to go on, cut back: ${cutBack(plan)}.`, basis: basisOfNumbers(plan) },
        ]
      : [
          {
            text: `Cut back today, or leave it out: ${cutBack(plan)}.`,
            basis: basisOfNumbers(plan),
          },
          { text: 'Ask the therapist when the dog is tired again next time.', basis: PRACTICE_BASIS },
        ]
  if (last.troubled >= 2) {
    advice.push({
      text: `Tired or sore after ${last.troubled} of the last sessions: ask the therapist before going on.`,
      basis: PRACTICE_BASIS,
    })
  }
  return advice
}

/** Half of what the plan allows, never below one repetition. */
function cutBack(plan: Pick<Plan, 'sessionCapS' | 'exercises'> | null): string {
  if (!plan) return 'fewer repetitions and a shorter session than last time'
  const most = Math.max(...plan.exercises.map(({ repetitions }) => repetitions ?? 0))
  const parts = [
    most >= 1
      ? `at most ${decimal(Math.max(1, Math.floor(most / 2)), 0)} of the plan's ${most} repetitions`
      : 'fewer repetitions than last time',
    plan.sessionCapS === null
      ? 'a shorter session than last time'
      : `no longer than ${clock(plan.sessionCapS / 2)} of the plan's ${clock(plan.sessionCapS)} min`,
  ]
  return parts.join(', ')
}

function basisOfNumbers(plan: Pick<Plan, 'version'> | null): string {
  return plan ? `${PLAN_BASIS(plan.version)}; halving is common practice, no source` : PRACTICE_BASIS
}
