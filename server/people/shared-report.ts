import { addDays, mondayOf } from '#protocol/local-week'
import { SHARED_MEASURES } from '#protocol/people'
import type { SharedMeasure, SharedReport } from '#protocol/people'
import type { Plan, SessionSummary } from '#protocol/resources'
import type { Trends } from '#protocol/trends'
import type { Records } from '../store/records.ts'
import { DEFAULT_TREND_SETTINGS, trendsOf } from '../trends/trends.ts'

const PAGE = 500

interface Days {
  readonly from: string
  readonly to: string
}

/**
 * What the report of a dog and a period is made of, and nothing beside it; null when the dog is gone. A report counts
 * whole weeks and in the reader's time zone, so what lies in the weeks the period touches belongs to it.
 */
export async function sharedReport(
  records: Records,
  dogId: string,
  { from, to, questions }: Days & { readonly questions: string },
): Promise<SharedReport | null> {
  const dog = await records.dog(dogId)
  if (!dog) return null
  const weeks = { from: mondayOf(addDays(from, -1)), to: addDays(mondayOf(addDays(to, 1)), 6) }
  const sessions = (await allSessions(records, dogId)).filter(({ startedAt }) => isOn(weeks, startedAt))
  const notes = await Promise.all(
    sessions.map(async ({ id }) => [id, await records.repetitionNotes.notes(id)] as const),
  )
  const scales = new Map(
    await Promise.all(sessions.map(async ({ id }) => [id, await records.timeScale(id)] as const)),
  )
  const trends = await Promise.all(
    SHARED_MEASURES.map(
      async (measure) => [measure, await trendsWithin(records, dogId, measure, { from, to })] as const,
    ),
  )
  return {
    from,
    to,
    questions,
    dog: { ...dog, notes: null, sessions: sessions.length },
    plans: plansWithin(await records.plans.plans(dogId), weeks),
    // The name of a file, and words about what is not on the page, are nobody else's business.
    sessions: sessions.map((session) => ({ ...session, fileName: null })),
    trends: Object.fromEntries(trends) as Record<SharedMeasure, Trends>,
    diary: (await records.diary.entries(dogId)).filter((entry) => overlaps(weeks, entry)),
    notes: Object.fromEntries(
      notes.map(([id, own]) => [id, own.map((note) => ({ ...note, atS: note.atS * (scales.get(id) ?? 1) }))]),
    ),
  }
}

async function allSessions(records: Records, dogId: string): Promise<SessionSummary[]> {
  const sessions: SessionSummary[] = []
  let cursor: string | undefined
  do {
    const page = await records.sessions({ dogId, limit: PAGE, ...(cursor !== undefined && { cursor }) })
    sessions.push(...page.sessions)
    cursor = page.next ?? undefined
  } while (cursor !== undefined)
  return sessions
}

async function trendsWithin(
  records: Records,
  dogId: string,
  measure: SharedMeasure,
  days: Days,
): Promise<Trends> {
  const [rows, markers, settings, dog] = await Promise.all([
    records.trends.rows(dogId, measure),
    records.trends.markers(dogId),
    records.trendSettings.settings(dogId),
    records.dog(dogId),
  ])
  const own = markers.filter((marker) => overlaps(days, marker))
  const request = { dogId, measure, ...days, demo: dog?.demo ?? false, namedSessions: 0 }
  return trendsOf(rows, own, { ...request, settings: settings ?? DEFAULT_TREND_SETTINGS })
}

/** Versions that began by the end and were not replaced before the beginning. */
function plansWithin(newestFirst: readonly Plan[], { from, to }: Days): Plan[] {
  const begun = newestFirst.filter(({ validFrom }) => validFrom <= to)
  const before = begun.findIndex(({ validFrom }) => validFrom <= from)
  return before < 0 ? begun : begun.slice(0, before + 1)
}

function isOn({ from, to }: Days, startedAt: string | null): boolean {
  const day = startedAt?.slice(0, 10)
  return day !== undefined && day >= from && day <= to
}

/** What has no last day is either of one day or goes on; both are let in by their first day and what lasts by both. */
function overlaps(
  { from, to }: Days,
  { kind, fromDate, untilDate }: { kind: string; fromDate: string; untilDate: string | null },
): boolean {
  const goesOn = kind === 'medication' || kind === 'plan'
  return fromDate <= to && (untilDate ?? (goesOn ? to : fromDate)) >= from
}
