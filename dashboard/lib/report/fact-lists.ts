import type { DiaryEntry } from '#protocol/diary'
import type { SessionSummary } from '#protocol/resources'
import type { Trends } from '#protocol/trends'
import { decimal, percent, significant } from '../format'
import { isSwayHidden, sensorLimit, underLimit } from '../sensor-limit'
import type { AccelerationUnit } from '../format'
import { count, dayOf, dayWords, shortDay } from './period'
import type { Period } from './period'
import type { FactList } from './report-model'
import type { ReportSources } from './report-sources'
import { oneLine } from './shorten'

/** More days than these are counted only. */
const MOST_DAYS = 16

/** Answers of the mornings after the sessions of the period; "tired" and "sore" with their days. */
export function mornings(sessions: readonly SessionSummary[]): FactList {
  const answered = sessions.filter(({ checkIn }) => checkIn !== null)
  const of = (answer: string) => answered.filter(({ checkIn }) => checkIn!.answer === answer)
  const day = (session: SessionSummary) => shortDay(session.startedAt!.slice(0, 10))
  const dated = (answer: 'tired' | 'sore') => {
    const days = of(answer).map(day)
    if (days.length === 0) return []
    const more = days.length > MOST_DAYS ? ` and ${days.length - MOST_DAYS} earlier` : ''
    return [`${answer === 'sore' ? 'Sore' : 'Tired'} after: ${days.slice(-MOST_DAYS).join(', ')}${more}`]
  }
  // The same words are told once, with all their days.
  const said = new Map<string, string[]>()
  for (const session of [...of('sore'), ...of('tired')]) {
    const note = oneLine(session.checkIn!.note ?? '')
    if (note !== '') said.set(note, [...(said.get(note) ?? []), day(session)])
  }
  const notes = [...said].map(([note, days]) => `“${note}” (${days.join(', ')})`)
  return {
    id: 'mornings',
    title: 'Mornings after',
    items:
      answered.length === 0
        ? ['Nobody noted how the dog was the morning after.']
        : [
            `${answered.length} of ${count(sessions.length, 'session')} answered for: ` +
              (['better', 'normal', 'tired', 'sore'] as const)
                .map((answer) => `${answer} ${of(answer).length}`)
                .join(', '),
            ...dated('sore'),
            ...(notes.length > 0 ? [`Notes: ${notes.join('; ')}`] : []),
          ],
    more: dated('tired'),
  }
}

/** What was given in the period, newest first, what is still given before what has ended. */
export function medication(diary: readonly DiaryEntry[], period: Period): FactList {
  const given = touching(diary, period).filter(({ kind }) => kind === 'medication')
  const goesOn = ({ untilDate }: DiaryEntry) => untilDate === null || untilDate >= period.toDay
  // What is still given comes first: it must not be what a full page leaves out.
  const entries = [...given.filter(goesOn), ...given.filter((entry) => !goesOn(entry))]
  return {
    id: 'medication',
    title: 'Medication, as noted',
    items:
      entries.length === 0
        ? ['None noted in the diary; that does not mean none was given.']
        : entries.map((entry) => entryWords(entry, period)),
  }
}

export function events(diary: readonly DiaryEntry[], period: Period): FactList {
  const entries = touching(diary, period).filter(({ kind }) => kind !== 'medication')
  return {
    id: 'events',
    title: 'Events and notes',
    items:
      entries.length === 0 ? ['None noted in the diary.'] : entries.map((entry) => entryWords(entry, period)),
  }
}

export function touching(diary: readonly DiaryEntry[], { fromDay, toDay }: Period): DiaryEntry[] {
  return diary
    .filter(({ kind, fromDate, untilDate }) => {
      const last = untilDate ?? (kind === 'medication' ? toDay : fromDate)
      return fromDate <= toDay && last >= fromDay
    })
    .sort((a, b) => b.fromDate.localeCompare(a.fromDate))
}

function entryWords({ kind, fromDate, untilDate, title, dose, note }: DiaryEntry, period: Period): string {
  // The head of the page names the year of a period that lies in one.
  const year = period.fromDay.slice(0, 4) === period.toDay.slice(0, 4) ? period.toDay.slice(0, 4) : null
  const told = (day: string) => (day.slice(0, 4) === year ? shortDay(day) : dayWords(day))
  const until =
    untilDate && untilDate !== fromDate
      ? ` to ${told(untilDate)}`
      : kind === 'medication' && untilDate === null
        ? ', goes on'
        : ''
  const words = [title, dose].filter(Boolean).map((text) => oneLine(text!))
  return `${told(fromDate)}${until}: ${words.join(', ')}${note ? ` (${oneLine(note)})` : ''}`
}

/** Signs of fatigue and stances as the handler ticked them. */
export function signs(sessions: readonly SessionSummary[], notes: ReportSources['notes']): FactList {
  const noted = sessions.filter(({ id }) => (notes.get(id)?.length ?? 0) > 0)
  const inSessions = new Map<string, number>()
  const stances = new Map<string, number>()
  for (const { id } of noted) {
    const own = notes.get(id)!
    for (const sign of new Set(own.flatMap(({ signs }) => signs))) raise(inSessions, sign)
    for (const { stance } of own) if (stance !== null) raise(stances, stance)
  }
  return {
    id: 'signs',
    title: 'Seen by the handler',
    items:
      noted.length === 0
        ? ['No signs of fatigue and no stances were noted; that does not mean there were none.']
        : [
            `Noted in ${noted.length} of ${count(sessions.length, 'session')}. Signs of fatigue: ${listed(inSessions, (n) => `in ${count(n, 'session')}`)}`,
            `Stance: ${listed(stances, (n) => count(n, 'repetition'))}`,
          ],
  }
}

const raise = (counts: Map<string, number>, key: string) => counts.set(key, (counts.get(key) ?? 0) + 1)

function listed(counts: ReadonlyMap<string, number>, words: (n: number) => string): string {
  if (counts.size === 0) return 'none'
  return [...counts]
    .sort((a, b) => b[1] - a[1])
    .map(([name, n]) => `${name} ${words(n)}`)
    .join(', ')
}

/** How far the recordings can be trusted: their verdicts, sensors, steps, and the version of the analysis. */
export function recordings(sessions: readonly SessionSummary[], unit: AccelerationUnit): FactList {
  const judged = sessions.filter(({ verdict }) => verdict !== null)
  const share = (verdict: string) => {
    const own = judged.filter((session) => session.verdict === verdict).length
    return `${verdict} ${own} (${percent(own / judged.length)})`
  }
  const sensors = new Map<string, number>()
  for (const { sensor } of sessions) raise(sensors, SENSOR_WORDS[sensor] ?? sensor)
  const rates = [...new Set(judged.flatMap(({ rateHz }) => (rateHz === null ? [] : [Math.round(rateHz)])))]
  return {
    id: 'recordings',
    title: 'Recordings',
    items: [
      judged.length === 0
        ? 'No session was analysed.'
        : `Quality: ${(['good', 'usable', 'poor'] as const).map(share).join(', ')} of ${count(judged.length, 'session')}`,
      ...(sessions.length === 0
        ? []
        : [`Recorded by: ${listed(sensors, (n) => decimal(n, 0))}${rateWords(rates)}`]),
      ...resolutionWords(sessions, unit),
    ],
  }
}

const SENSOR_WORDS: Readonly<Record<string, string>> = {
  bluetooth: 'harness sensor by Bluetooth',
  phone: 'phone in the harness',
  upload: 'uploaded trace',
  'simulated harness': 'simulated harness',
  replay: 'trace played again',
}

function rateWords(ratesHz: readonly number[]): string {
  if (ratesHz.length === 0) return ''
  const [low, high] = [Math.min(...ratesHz), Math.max(...ratesHz)]
  return low === high ? `; ${low} Hz` : `; ${low} to ${high} Hz`
}

function resolutionWords(sessions: readonly SessionSummary[], unit: AccelerationUnit): string[] {
  const steps = [...new Set(sessions.flatMap(({ resolutionMs2 }) => resolutionMs2 ?? []))]
  if (steps.length === 0) return ['No sensor stated its steps: the least sway it can show is not known.']
  const coarsest = Math.max(...steps)
  const limit = sensorLimit({ resolutionMs2: coarsest }, 'phone')!
  const hidden = sessions.filter(isSwayHidden).length
  return [
    `Coarsest steps: ${significant(coarsest)} m/s²; sway ${underLimit(limit, unit)} cannot be told with them` +
      (hidden === 0 ? ' (no session)' : ` (${count(hidden, 'session')}, not compared)`),
  ]
}

/** Sessions of the period that count for nothing, and sessions without a place in it, with the reason. */
export function notCounted(
  sessions: readonly SessionSummary[],
  { sway, all }: { sway: Trends; all: readonly SessionSummary[] },
): FactList {
  const byReason = new Map<string, string[]>()
  for (const { excluded, startedAt } of sessions) {
    if (excluded === null) continue
    const reason = oneLine(excluded.reason)
    byReason.set(reason, [...(byReason.get(reason) ?? []), shortDay(dayOf(new Date(startedAt!)))])
  }
  const undated = all.filter(({ startedAt, fileName }) => startedAt === null && fileName !== null).length
  const others = sway.notCompared.filter(({ reason, sessions }) => reason !== 'no date' && sessions > 0)
  const items = [
    ...[...byReason].map(([reason, days]) => `Set aside by a person, “${reason}”: ${days.join(', ')}`),
    ...others.map(({ reason, sessions }) => `${count(sessions, 'session')}: ${reason}`),
    ...(undated > 0 ? [`${count(undated, 'session')} without a date: no place in any period`] : []),
  ]
  return {
    id: 'notCounted',
    title: 'Not compared',
    items: items.length === 0 ? ['No session was set aside.'] : items,
  }
}
