import type { DiaryEntry, NewDiaryEntry } from '#protocol/diary'
import { dayOfSession } from '#protocol/dose-weeks'
import { mondayOf } from '#protocol/local-week'
import type { SessionSummary } from '#protocol/resources'
import { dayWords } from './day-words'

export type DiaryLine =
  | { kind: 'session'; key: string; day: string; session: SessionSummary }
  | { kind: 'entry'; key: string; day: string; entry: DiaryEntry }

export interface DiaryWeek {
  monday: string
  /** Newest day first. */
  lines: DiaryLine[]
}

/**
 * Sessions and entries on one time line, by weeks from Monday to Sunday, newest first; weeks in which nothing was
 * written are left out, and everything before `oldest` (YYYY-MM-DD) is. Sessions nobody dated have no place.
 */
export function diaryWeeks(
  sessions: readonly SessionSummary[],
  entries: readonly DiaryEntry[],
  timeZone: string,
  oldest: string,
): DiaryWeek[] {
  const lines: DiaryLine[] = entries.map((entry) => ({
    kind: 'entry',
    key: `entry ${entry.id}`,
    day: entry.fromDate,
    entry,
  }))
  for (const session of sessions) {
    const day = dayOfSession(session, timeZone)
    if (day !== null) lines.push({ kind: 'session', key: `session ${session.id}`, day, session })
  }
  const weeks = new Map<string, DiaryLine[]>()
  for (const line of lines) {
    if (line.day < oldest) continue
    const monday = mondayOf(line.day)
    weeks.set(monday, [...(weeks.get(monday) ?? []), line])
  }
  return [...weeks]
    .sort(([a], [b]) => b.localeCompare(a))
    .map(([monday, list]) => ({ monday, lines: list.sort((a, b) => b.day.localeCompare(a.day)) }))
}

/** Medication that is given on a day, newest first. */
export function medicationOn(entries: readonly DiaryEntry[], day: string): DiaryEntry[] {
  return entries
    .filter(
      ({ kind, fromDate, untilDate }) =>
        kind === 'medication' && fromDate <= day && (untilDate === null || untilDate >= day),
    )
    .sort((a, b) => b.fromDate.localeCompare(a.fromDate))
}

/** An entry as the form holds it; an empty last day means one day, or a medication that goes on. */
export interface EntryDraft {
  kind: NewDiaryEntry['kind']
  fromDate: string
  untilDate: string
  title: string
  dose: string
  note: string
}

export function entryDraft(entry: DiaryEntry | null, today: string): EntryDraft {
  return {
    kind: entry?.kind ?? 'note',
    fromDate: entry?.fromDate ?? today,
    untilDate: entry?.untilDate ?? '',
    title: entry?.title ?? '',
    dose: entry?.dose ?? '',
    note: entry?.note ?? '',
  }
}

/** The entry of a filled-in form: only medication has a dose. */
export function entryOf(draft: EntryDraft): NewDiaryEntry {
  const words = (typed: string) => (typed.trim() === '' ? null : typed.trim())
  return {
    kind: draft.kind,
    fromDate: draft.fromDate,
    untilDate: words(draft.untilDate),
    title: draft.title.trim(),
    dose: draft.kind === 'medication' ? words(draft.dose) : null,
    note: words(draft.note),
  }
}

/** Whether a day of the entry lies more than a year after `today` (YYYY-MM-DD): more likely a slip than meant. */
export function isFarAhead({ fromDate, untilDate }: EntryDraft, today: string): boolean {
  const inAYear = `${Number(today.slice(0, 4)) + 1}${today.slice(4)}`
  // A year with five digits is typed easily, and would not sort.
  const isAfter = (day: string) => day.length > inAYear.length || day > inAYear
  return isAfter(fromDate) || (untilDate !== '' && isAfter(untilDate))
}

/** What an entry is called in lists. */
export const ENTRY_WORDS: Record<NewDiaryEntry['kind'], string> = {
  medication: 'Medication',
  event: 'Event',
  note: 'Note',
}

/** "from 3 Mar 2026 on", "3 Mar 2026 – 9 Mar 2026", or the day. */
export function spanWords({ kind, fromDate, untilDate }: DiaryEntry): string {
  if (untilDate !== null && untilDate !== fromDate) return `${dayWords(fromDate)} – ${dayWords(untilDate)}`
  if (kind === 'medication' && untilDate === null) return `from ${dayWords(fromDate)} on`
  return dayWords(fromDate)
}
