import { doseWeeks } from '#protocol/dose-weeks'
import type { SharedReport } from '#protocol/people'
import type { SessionSummary } from '#protocol/resources'
import type { RepetitionNote } from '#protocol/session-review'
import type { Trends } from '#protocol/trends'
import { listDiary, listPlans, listRepetitionNotes, listSessions, loadDog, loadTrends } from '../api'
import { isWithin, momentsOf } from './period'
import type { Period } from './period'
import { REPORT_MEASURES } from './report-sources'
import type { ReportMeasure, ReportSources } from './report-sources'

/** Notes are kept per session; so many are asked for at once. */
const AT_ONCE = 6

/** Everything the report of a dog is made of. */
export async function loadReportSources(
  dogId: string,
  period: Period,
  { now, signal }: { now: Date; signal?: AbortSignal },
): Promise<ReportSources> {
  const [dog, plans, sessions, diary, ...courses] = await Promise.all([
    loadDog(dogId, signal),
    listPlans(dogId, signal),
    listSessions(dogId, signal),
    listDiary(dogId, signal),
    ...REPORT_MEASURES.map((measure) =>
      loadTrends(dogId, measure, { from: period.fromDay, to: period.toDay }, signal),
    ),
  ])
  const trends = Object.fromEntries(REPORT_MEASURES.map((measure, k) => [measure, courses[k]])) as Record<
    ReportMeasure,
    Trends
  >
  const own = sessions.filter(({ startedAt }) => isWithin(period, startedAt))
  return {
    dog,
    plans,
    sessions,
    trends,
    weeks: weeksOf(period, { sessions, plans, now, played: dog.demo }),
    diary,
    notes: await notesOf(own, signal),
  }
}

/** The same of a report that a link shows: the server gave its parts at once. */
export function sharedReportSources(shared: SharedReport, now: Date): ReportSources {
  const { from, to, dog, plans, sessions, trends, diary, notes } = shared
  const period = { fromDay: from, toDay: to }
  return {
    dog,
    plans,
    sessions,
    trends,
    weeks: weeksOf(period, { sessions, plans, now, played: dog.demo }),
    diary,
    notes: new Map(Object.entries(notes)),
  }
}

/** The calendar weeks of the reader's time zone that touch the period, oldest first, as in the diary. */
function weeksOf(
  period: Period,
  { now, ...input }: Pick<ReportSources, 'sessions' | 'plans'> & { now: Date; played: boolean },
): ReportSources['weeks'] {
  const { fromMs, toMs } = momentsOf(period)
  const until = new Date(Math.min(now.getTime(), toMs - 1))
  // A period that lies ahead has no weeks yet.
  if (until.getTime() < fromMs) return []
  const { timeZone } = Intl.DateTimeFormat().resolvedOptions()
  const most = Math.ceil((until.getTime() - fromMs) / WEEK_MS) + 1
  const newestFirst = doseWeeks({ ...input, timeZone, now: until }, most)
  return newestFirst.filter(({ monday }) => Date.parse(`${monday}T00:00:00Z`) + WEEK_MS > fromMs).reverse()
}

const WEEK_MS = 7 * 86_400_000

async function notesOf(
  sessions: readonly SessionSummary[],
  signal?: AbortSignal,
): Promise<Map<string, RepetitionNote[]>> {
  const notes = new Map<string, RepetitionNote[]>()
  const waiting = [...sessions]
  const loadNext = async () => {
    for (let session = waiting.pop(); session; session = waiting.pop()) {
      notes.set(session.id, await listRepetitionNotes(session.id, signal))
    }
  }
  await Promise.all(Array.from({ length: AT_ONCE }, loadNext))
  return notes
}
