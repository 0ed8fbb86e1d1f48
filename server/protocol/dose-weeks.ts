import type { DoseWeek } from './dose-types.ts'
import { addDays, localDay, mondayOf, weekdayOf } from './local-week.ts'
import { planInForce } from './plan-in-force.ts'
import type { Plan, SessionSummary } from './resources.ts'

/** Types only are imported from schemas: this runs in the browser too, where no schema library goes. */

export interface DoseInput {
  /** In any order; those of the weeks asked for are enough. */
  sessions: readonly SessionSummary[]
  /** All versions, in any order. */
  plans: readonly Plan[]
  /** IANA name. */
  timeZone: string
  now: Date
  /** Simulated and replayed sessions count: only for the demo dog, which does nothing else. */
  played?: boolean
}

/** Sensors that measured nothing on a dog. */
const PLAYED = ['simulated harness', 'replay']

/** When it took place; the day it was added, for a live one that was never dated. Null for a file nobody dated. */
export function dayOfSession(
  { startedAt, createdAt, fileName }: Pick<SessionSummary, 'startedAt' | 'createdAt' | 'fileName'>,
  timeZone: string,
): string | null {
  if (startedAt === null && fileName !== null) return null
  return localDay(startedAt ?? createdAt, timeZone)
}

/** Whether a session was measured on a dog; those of the demo dog count as if they were. */
export const isOfDog = ({ sensor }: Pick<SessionSummary, 'sensor'>, played = false): boolean =>
  played || !PLAYED.includes(sensor)

/**
 * Whether the dog did the work: finished or being analysed, and measured on a dog. What is left out of trends
 * counts, a recording that failed does not.
 */
export const isDose = (session: Pick<SessionSummary, 'sensor' | 'state'>, played = false): boolean =>
  (session.state === 'finished' || session.state === 'analysing') && isOfDog(session, played)

/**
 * Weeks from that of `now` back to that of the first session, at most `weeks`, newest first. A week is held
 * against the plan in force on its last day, of the current week on today; a change within a week is not shared
 * out, since nobody plans half a week. Sessions a day are held against the plan of that day.
 * @throws {RangeError} for a time zone nobody knows, or fewer than one week
 */
export function doseWeeks({ sessions, plans, timeZone, now, played }: DoseInput, weeks: number): DoseWeek[] {
  if (!(Number.isInteger(weeks) && weeks >= 1)) {
    throw new RangeError(`doseWeeks requires weeks to be an integer >= 1, got ${weeks}`)
  }
  const today = localDay(now, timeZone)
  const current = mondayOf(today)
  const byWeek = new Map<string, Dated[]>()
  let first = current
  for (const session of sessions) {
    const day = dayOfSession(session, timeZone)
    if (day === null || day > today || !isOfDog(session, played)) continue
    const monday = mondayOf(day)
    if (isDose(session, played) && monday < first) first = monday
    const list = byWeek.get(monday)
    if (list) list.push({ day, session })
    else byWeek.set(monday, [{ day, session }])
  }
  const list: DoseWeek[] = []
  for (let monday = current; monday >= first && list.length < weeks; monday = addDays(monday, -7)) {
    list.push(weekOf(monday, byWeek.get(monday) ?? [], plans, today))
  }
  return list
}

interface Dated {
  day: string
  session: SessionSummary
}

function weekOf(monday: string, dated: readonly Dated[], plans: readonly Plan[], today: string): DoseWeek {
  const sunday = addDays(monday, 6)
  const current = today <= sunday
  const plan = planInForce(plans, current ? today : sunday)
  const done = dated.filter(({ session }) => isDose(session, true))
  const sessionsOn = new Map<string, number>()
  for (const { day } of done) sessionsOn.set(day, (sessionsOn.get(day) ?? 0) + 1)
  const sum = (value: (session: SessionSummary) => number | null) =>
    done.reduce((total, { session }) => total + (value(session) ?? 0), 0)
  const allHandsOff = done.every(
    ({ session }) => session.handsOffHoldS !== null || (session.holdS ?? 0) === 0,
  )
  return {
    monday,
    planVersion: plan?.version ?? null,
    planned: plannedOf(plan),
    done: {
      days: sessionsOn.size,
      sessions: done.length,
      repetitions: sum(({ repetitions }) => repetitions),
      holdS: sum(({ holdS }) => holdS),
      // A sum over a part of the sessions would pass for less hands-off time than there was.
      handsOffHoldS: done.length > 0 && allHandsOff ? sum(({ handsOffHoldS }) => handsOffHoldS) : null,
      longestS: done.reduce((longest, { session }) => Math.max(longest, session.durationS ?? 0), 0),
      overLimit: done.filter(({ session }) => (session.planWarnings ?? 0) > 0).length,
      daysOverSessions: [...sessionsOn].filter(
        ([day, count]) => count > (planInForce(plans, day)?.sessionsPerDay ?? Infinity),
      ).length,
    },
    checkIns: answersOf(dated),
    current,
    left: current ? leftOf(plan, daysOfPlan(plans, plan, today), sessionsOn, today) : null,
  }
}

function plannedOf(plan: Plan | null): DoseWeek['planned'] {
  if (!plan) return { days: null, sessions: null, repetitionsPerSession: null }
  const { daysPerWeek, sessionsPerDay } = plan
  const repetitions = plan.exercises.map((exercise) => exercise.repetitions)
  return {
    days: daysPerWeek,
    sessions: daysPerWeek === null || sessionsPerDay === null ? null : daysPerWeek * sessionsPerDay,
    // A session is one exercise: that of the most repetitions says what one may have at most.
    repetitionsPerSession: repetitions.includes(null) ? null : Math.max(...repetitions.map((n) => n ?? 0)),
  }
}

function answersOf(dated: readonly Dated[]): DoseWeek['checkIns'] {
  const answers = { better: 0, normal: 0, tired: 0, sore: 0 }
  for (const { session } of dated) if (session.checkIn) answers[session.checkIn.answer]++
  return answers
}

/** How many days from today to Sunday this very version applies: it may end, or a newer one begin. */
function daysOfPlan(plans: readonly Plan[], plan: Plan | null, today: string): number {
  let days = 0
  for (let day = today; plan && days < 7 - weekdayOf(today); day = addDays(day, 1)) {
    if (planInForce(plans, day)?.version !== plan.version) break
    days++
  }
  return days
}

/** What can still be done in the days the plan applies without passing days a week or sessions a day. */
function leftOf(
  plan: Plan | null,
  daysOfPlan: number,
  sessionsOn: ReadonlyMap<string, number>,
  today: string,
): DoseWeek['left'] {
  const { daysPerWeek = null, sessionsPerDay = null } = plan ?? {}
  if (daysPerWeek === null) return { days: null, sessions: null }
  const doneToday = sessionsOn.get(today) ?? 0
  const newDays = Math.max(0, daysPerWeek - sessionsOn.size)
  const daysAhead = doneToday === 0 ? daysOfPlan : daysOfPlan - 1
  const days = Math.min(newDays, daysAhead)
  if (sessionsPerDay === null) return { days, sessions: null }
  const overDays = sessionsOn.size > daysPerWeek
  const moreToday = doneToday === 0 || overDays ? 0 : Math.max(0, sessionsPerDay - doneToday)
  return { days, sessions: days * sessionsPerDay + moreToday }
}

/** What was more than the plan in a week, in words that judge nothing; empty when nothing was. */
export function moreThanPlan({ planned, done }: Pick<DoseWeek, 'planned' | 'done'>): string[] {
  const { days, daysOverSessions, overLimit } = done
  return [
    planned.days !== null && days > planned.days ? `${days} days, the plan says ${planned.days}` : null,
    daysOverSessions > 0 ? `${counted(daysOverSessions, 'day')} with more sessions than the plan says` : null,
    overLimit > 0 ? `${counted(overLimit, 'session')} past a limit` : null,
  ].filter((words) => words !== null)
}

const counted = (n: number, what: string) => (n === 1 ? `1 ${what}` : `${n} ${what}s`)
