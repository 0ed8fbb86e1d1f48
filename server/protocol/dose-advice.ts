import { cutBackWords, HALVING_BASIS } from './cut-back.ts'
import { dayOfSession, doseWeeks, isDose, isOfDog } from './dose-weeks.ts'
import type { DoseInput } from './dose-weeks.ts'
import type { DoseAdvice } from './dose-types.ts'
import { addDays, localDay } from './local-week.ts'
import { endedPlan, planInForce } from './plan-in-force.ts'
import { planBasis } from './plan-limits.ts'
import type { CheckIn, Plan, SessionSummary } from './resources.ts'

type Answer = CheckIn['answer']
const PRACTICE = 'common practice, no source'

/** Answers looked back on for "again and again", and how many of them make it so. */
const LOOK_BACK = 4
const REPEATED = 2
/** Limits passed and signs of fatigue in one session that ask for less in the next. */
const SEVERAL_SIGNS = 2
/** A session is asked about from the day after it on, and for this many days. */
export const ASKED_FOR_DAYS = 7
/** Sessions longer ago than this many weeks say nothing about the next one. */
export const ADVICE_WEEKS = 26

/** Mornings after which less is due. */
export const isTroubled = (answer: Answer): boolean => answer === 'tired' || answer === 'sore'

interface Dated {
  day: string
  session: SessionSummary
}

/** Sessions with a day that have ended, newest first. */
function datedNewestFirst({ sessions, timeZone, now, played }: DoseInput): Dated[] {
  const today = localDay(now, timeZone)
  const oldest = addDays(today, -7 * ADVICE_WEEKS)
  return sessions
    .filter((session) => session.state !== 'recording' && isOfDog(session, played))
    .map((session) => ({ day: dayOfSession(session, timeZone), session }))
    .filter((one): one is Dated => one.day !== null && one.day <= today && one.day >= oldest)
    .sort((a, b) => startMs(b.session) - startMs(a.session))
}

const startMs = ({ startedAt, createdAt }: SessionSummary) => Date.parse(startedAt ?? createdAt)

/** The newest session of an earlier day that nobody has checked in on; null when none is missing. */
export function missingCheckIn(input: DoseInput): SessionSummary | null {
  const today = localDay(input.now, input.timeZone)
  const last = datedNewestFirst(input).find(({ day }) => day < today)
  if (!last || last.session.checkIn !== null || last.day < addDays(today, -ASKED_FOR_DAYS)) return null
  return last.session
}

export interface LastAnswer {
  answer: Answer
  session: SessionSummary
  /** How many of the newest `of` answers, at most four, were "tired" or "sore". */
  troubled: number
  of: number
}

/** From the best morning to the worst. */
const BY_TROUBLE: readonly Answer[] = ['better', 'normal', 'tired', 'sore']

/**
 * The answer about the newest day that has one; null when none has. Several sessions of one day are followed by
 * one morning: of what was said about it the worst counts, whichever session it was said of.
 */
export function lastAnswer(input: DoseInput): LastAnswer | null {
  const answered = datedNewestFirst(input).filter(({ session }) => session.checkIn !== null)
  if (answered.length === 0) return null
  const newest = answered.slice(0, LOOK_BACK).map(({ session }) => session.checkIn!.answer)
  const troubled = newest.filter(isTroubled).length
  const trouble = ({ session }: Dated) => BY_TROUBLE.indexOf(session.checkIn!.answer)
  const { session } = answered
    .filter(({ day }) => day === answered[0].day)
    .reduce((worst, one) => (trouble(one) > trouble(worst) ? one : worst))
  return { answer: session.checkIn!.answer, session, troubled, of: newest.length }
}

/**
 * What the next session should mind. Each line is less, rest, ask, or a question; none is ever more, also after
 * "better": a good morning is no reason to do more than the plan. server/README.md has the table of rules.
 */
export function doseAdvice(input: DoseInput): DoseAdvice[] {
  const today = localDay(input.now, input.timeZone)
  const plan = planInForce(input.plans, today)
  const last = lastAnswer(input)
  const less = lessAfter(input, last, plan)
  return [
    // Who has to ask first should not read numbers first.
    ...less.filter(({ kind }) => kind === 'rest'),
    ...askAfterRepeats(last),
    ...less.filter(({ kind }) => kind !== 'rest'),
    ...askAboutPlan(input, plan, today),
    ...askForCheckIn(input),
  ]
}

/** After "sore": rest and ask. After "tired", or several signs in the last session: cut back. */
function lessAfter(input: DoseInput, last: LastAnswer | null, plan: Plan | null): DoseAdvice[] {
  const newest = datedNewestFirst(input).find(({ session }) => isDose(session, input.played))
  const signs = newest ? signsOf(newest.session) : null
  const after = (session: SessionSummary) => `after the session of ${dayWords(session, input.timeZone)}`
  const sore = last?.answer === 'sore'
  const reasons = [
    last?.answer === 'tired' ? `Tired ${after(last.session)}` : null,
    newest && signs ? `${signs} in the session of ${dayWords(newest.session, input.timeZone)}` : null,
  ].filter((reason) => reason !== null)
  const advice: DoseAdvice[] = []
  if (sore) {
    advice.push({
      kind: 'rest',
      text:
        `Sore ${after(last.session)}: do not train a sore dog. Ask the therapist or the vet before the next ` +
        'session.',
      basis: PRACTICE,
    })
  }
  if (sore || reasons.length > 0) {
    const opening = sore
      ? 'When they say to go on, cut back'
      : `${reasons.join('; ')}: cut back today, or leave it out`
    advice.push({
      kind: 'cut back',
      text: `${opening}: ${cutBackWords(plan)}.`,
      basis: plan ? `${planBasis(plan)}; ${HALVING_BASIS}` : PRACTICE,
    })
  }
  return advice
}

/** "2 limits passed and 1 sign of fatigue", when that is several; null below. */
function signsOf({ planWarnings, fatigueSigns = 0 }: SessionSummary): string | null {
  const limits = planWarnings ?? 0
  if (limits + fatigueSigns < SEVERAL_SIGNS) return null
  return [
    limits === 0 ? null : limits === 1 ? '1 limit passed' : `${limits} limits passed`,
    fatigueSigns === 0 ? null : fatigueSigns === 1 ? '1 sign of fatigue' : `${fatigueSigns} signs of fatigue`,
  ]
    .filter((words) => words !== null)
    .join(' and ')
}

function askAfterRepeats(last: LastAnswer | null): DoseAdvice[] {
  if (!last || last.troubled < REPEATED) return []
  const text =
    `Tired or sore after ${last.troubled} of the last ${last.of} sessions that were answered for: ` +
    'ask your therapist before going on.'
  return [{ kind: 'ask', text, basis: PRACTICE }]
}

function askAboutPlan(input: DoseInput, plan: Plan | null, today: string): DoseAdvice[] {
  const ended = endedPlan(input.plans, today)
  if (ended) {
    const basis = `plan version ${ended.version}, set by ${ended.setBy}`
    const text = `The plan ended on ${words(ended.validUntil!)}: ask the therapist what applies now.`
    return [{ kind: 'ask', text, basis }]
  }
  const [week] = doseWeeks(input, 1)
  const allowed = week.planned.days
  const over = [
    allowed !== null && week.done.days > allowed
      ? `${week.done.days} days with sessions, the plan says ${allowed}`
      : null,
    week.done.daysOverSessions > 0 ? 'a day with more sessions than the plan says' : null,
  ].filter((part) => part !== null)
  if (!plan || over.length === 0) return []
  const text = `More than the plan this week: ${over.join(', ')}. Rest, and ask the therapist.`
  return [{ kind: 'ask', text, basis: planBasis(plan) }]
}

function askForCheckIn(input: DoseInput): DoseAdvice[] {
  const missing = missingCheckIn(input)
  if (!missing) return []
  const text = `Nobody has said yet how the dog was the morning after the session of ${dayWords(missing, input.timeZone)}.`
  return [{ kind: 'check in', text, basis: PRACTICE, sessionId: missing.id }]
}

const dayWords = (session: SessionSummary, timeZone: string) => words(dayOfSession(session, timeZone)!)

const DAYS = new Intl.DateTimeFormat('en-GB', { dateStyle: 'long', timeZone: 'UTC' })
const words = (day: string) => DAYS.format(new Date(`${day}T12:00:00Z`))
