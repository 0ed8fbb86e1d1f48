import type { Dose } from '#protocol/dose-types'
import type { AuditEntry, DiaryEntry, NewDiaryEntry } from '#protocol/diary'
import type {
  CheckIn,
  Dog,
  DogChange,
  HoldDetail,
  NewDog,
  NewMark,
  NewPlan,
  NewSession,
  Pairing,
  Plan,
  RedeemedPairing,
  SessionChangeBody,
  SessionSummary,
  Timeline,
} from '#protocol/resources'
import type {
  NewRepetitionNote,
  RepetitionNote,
  SessionEdits,
  StoredSessionEdits,
} from '#protocol/session-review'
import type { UnreadablePart } from '#protocol/unreadable-part'
import type { NewTrendSettings, TrendSettings, Trends } from '#protocol/trends'
import type { Report } from '#signal/report-types'
import type { MeasureName } from '#signal/trend/measures'
import { read, write } from './request'

/**
 * One function per call. All throw an ApiError that says what to tell. `version` is that of the record as it was
 * read: when it is another one by now the server refuses with RECORD_CHANGED (a plan with PLAN_CHANGED), and
 * `error.problem.version` is the newest.
 */

export const loadHealth = (signal?: AbortSignal) =>
  read<{ status: 'ok'; analysisVersion: string }>('/api/health', signal)

export const listDogs = (signal?: AbortSignal) => read<Dog[]>('/api/dogs', signal)

export const loadDog = (dogId: string, signal?: AbortSignal) => read<Dog>(`/api/dogs/${id(dogId)}`, signal)

export const createDog = (dog: NewDog) => write<Dog>('POST', '/api/dogs', dog)

/** Null clears a field. */
export const patchDog = (dogId: string, change: DogChange, version: number) =>
  write<Dog>('PATCH', `/api/dogs/${id(dogId)}`, change, ifMatch(version))

export const deleteDog = (dogId: string) => write<void>('DELETE', `/api/dogs/${id(dogId)}`)

/** Creates the invented demo dog with its sessions, or returns it when it exists. */
export const createDemo = () => write<Dog>('POST', '/api/demo')

/**
 * The plan of a dog as it is now; null when nobody has set one. Taken from the list of versions: an
 * empty list can be kept for the time without a network, a missing plan cannot.
 */
export async function loadPlan(dogId: string, signal?: AbortSignal): Promise<Plan | null> {
  return (await listPlans(dogId, signal))[0] ?? null
}

/** Every version of the plan, newest first; empty when nobody has set one. */
export const listPlans = (dogId: string, signal?: AbortSignal) =>
  read<Plan[]>(`/api/dogs/${id(dogId)}/plans`, signal)

/**
 * Makes the next version of the plan. `version` is the one that was read, null for none: when there is
 * another by now the server refuses with PLAN_CHANGED.
 */
export const savePlan = (dogId: string, plan: NewPlan, version: number | null) =>
  write<Plan>('PUT', `/api/dogs/${id(dogId)}/plan`, plan, firstOr(version))

/**
 * The answer of the morning after a session; replaces an earlier one. With a `version` only that one (null: only
 * when there is none), without it whatever is there.
 */
export const saveCheckIn = (sessionId: string, checkIn: CheckIn, version?: number | null) =>
  write<NonNullable<SessionSummary['checkIn']>>(
    'PUT',
    `/api/sessions/${id(sessionId)}/check-in`,
    checkIn,
    version === undefined ? {} : firstOr(version),
  )

export const removeCheckIn = (sessionId: string, version?: number) =>
  write<void>(
    'DELETE',
    `/api/sessions/${id(sessionId)}/check-in`,
    undefined,
    version === undefined ? {} : ifMatch(version),
  )

/** Medication, events and notes of a dog, newest first. */
export const listDiary = (dogId: string, signal?: AbortSignal) => read<DiaryEntry[]>(diaryUrl(dogId), signal)

export const addDiaryEntry = (dogId: string, entry: NewDiaryEntry) =>
  write<DiaryEntry>('POST', diaryUrl(dogId), entry)

export const saveDiaryEntry = (dogId: string, entryId: string, entry: NewDiaryEntry, version: number) =>
  write<DiaryEntry>('PUT', `${diaryUrl(dogId)}/${id(entryId)}`, entry, ifMatch(version))

export const removeDiaryEntry = (dogId: string, entryId: string, version: number) =>
  write<void>('DELETE', `${diaryUrl(dogId)}/${id(entryId)}`, undefined, ifMatch(version))

/** Of the days from `from` to `to` (UTC, YYYY-MM-DD, included; null for no limit). */
export const loadTrends = (
  dogId: string,
  measure: MeasureName,
  days: { from: string | null; to: string | null },
  signal?: AbortSignal,
) => read<Trends>(`/api/dogs/${id(dogId)}/trends?${trendQuery(measure, days)}`, signal)

export const trendsCsvUrl = (
  dogId: string,
  measure: MeasureName,
  days: { from: string | null; to: string | null },
) => `/api/dogs/${id(dogId)}/trends.csv?${trendQuery(measure, days)}`

/** Version 0 until somebody has set any: it is saved like any other. */
export const loadTrendSettings = (dogId: string, signal?: AbortSignal) =>
  read<TrendSettings>(`/api/dogs/${id(dogId)}/trend-settings`, signal)

export const saveTrendSettings = (dogId: string, settings: NewTrendSettings, version: number) =>
  write<TrendSettings>('PUT', `/api/dogs/${id(dogId)}/trend-settings`, settings, ifMatch(version))

export interface AuditPage {
  entries: AuditEntry[]
  /** Asks for the page after this one; null on the last. */
  next: string | null
}

/** What was changed about a dog, newest first, by pages. */
export function listAudit(
  dogId: string,
  page: { cursor?: string; limit?: number } = {},
  signal?: AbortSignal,
): Promise<AuditPage> {
  const query = new URLSearchParams({
    ...(page.limit !== undefined && { limit: String(page.limit) }),
    ...(page.cursor !== undefined && { cursor: page.cursor }),
  })
  return read<AuditPage>(`/api/dogs/${id(dogId)}/audit?${query}`, signal)
}

interface SessionPage {
  sessions: SessionSummary[]
  next: string | null
}

/** What was planned and done in the newest weeks, and what the next session should mind. */
export const loadDose = (dogId: string, weeks: number, timeZone: string, signal?: AbortSignal) =>
  read<Dose>(`/api/dogs/${id(dogId)}/dose?${new URLSearchParams({ timeZone, weeks: String(weeks) })}`, signal)

/** Sessions of a dog, newest first: all of them, or by pages until one is older than `since` (ISO 8601). */
export async function listSessions(
  dogId: string,
  signal?: AbortSignal,
  since: string | null = null,
): Promise<SessionSummary[]> {
  const sessions: SessionSummary[] = []
  let cursor: string | null = null
  do {
    const query = new URLSearchParams({ dogId, limit: '500', ...(cursor !== null && { cursor }) })
    const page: SessionPage = await read<SessionPage>(`/api/sessions?${query}`, signal)
    sessions.push(...page.sessions)
    const reached = since !== null && page.sessions.some((one) => (one.startedAt ?? one.createdAt) < since)
    cursor = reached ? null : page.next
  } while (cursor !== null)
  return sessions
}

/** The newest sessions of a dog, at most `limit`, newest first. */
export async function listNewestSessions(
  dogId: string,
  limit: number,
  signal?: AbortSignal,
): Promise<SessionSummary[]> {
  const query = new URLSearchParams({ dogId, limit: String(limit) })
  return (await read<SessionPage>(`/api/sessions?${query}`, signal)).sessions
}

/** Sessions of all dogs that are being recorded now, newest first. */
export async function listLive(signal?: AbortSignal): Promise<SessionSummary[]> {
  const { sessions } = await read<SessionPage>('/api/sessions?limit=50', signal)
  return sessions.filter(({ state }) => state === 'recording')
}

export const createSession = (session: NewSession) => write<SessionSummary>('POST', '/api/sessions', session)

export const loadSession = (sessionId: string, signal?: AbortSignal) =>
  read<SessionSummary>(`/api/sessions/${id(sessionId)}`, signal)

export const deleteSession = (sessionId: string) => write<void>('DELETE', `/api/sessions/${id(sessionId)}`)

/** Ends a recording whose sender is gone; what arrived is kept and analysed. */
export const finishSession = (sessionId: string) =>
  write<SessionSummary>('POST', `/api/sessions/${id(sessionId)}/finish`)

/** A link's secret for one other device that will record the session. */
export const openPairing = (sessionId: string) =>
  write<Pairing>('POST', `/api/sessions/${id(sessionId)}/pairing`)

/** What the secret of a link opens; it works once. */
export const redeemPairing = (secret: string) =>
  write<RedeemedPairing>('POST', '/api/pairings/redeem', { secret })

/** Another mount or start is analysed before the answer comes. `version` null: whatever it is by now. */
export const changeSession = (sessionId: string, change: SessionChangeBody, version: number | null) =>
  write<SessionSummary>(
    'PATCH',
    `/api/sessions/${id(sessionId)}`,
    change,
    version === null ? { 'if-match': '*' } : ifMatch(version),
  )

/** All marks and corrected holds of a session, with the version that the next change names. */
export const loadEdits = (sessionId: string, signal?: AbortSignal) =>
  read<StoredSessionEdits>(`/api/sessions/${id(sessionId)}/edits`, signal)

/** Replaces all of them and analyses the session again before the answer comes. */
export const saveEdits = (sessionId: string, edits: SessionEdits, version: number) =>
  write<StoredSessionEdits>('PUT', `/api/sessions/${id(sessionId)}/edits`, edits, ifMatch(version))

/** In the order of their time. */
export const listRepetitionNotes = (sessionId: string, signal?: AbortSignal) =>
  read<RepetitionNote[]>(repetitionNotesUrl(sessionId), signal)

/** `noteId` is made by the caller; `version` null for a new note. */
export const saveRepetitionNote = (
  sessionId: string,
  noteId: string,
  note: NewRepetitionNote,
  version: number | null,
) => write<RepetitionNote>('PUT', `${repetitionNotesUrl(sessionId)}/${id(noteId)}`, note, firstOr(version))

export const removeRepetitionNote = (sessionId: string, noteId: string, version: number) =>
  write<void>('DELETE', `${repetitionNotesUrl(sessionId)}/${id(noteId)}`, undefined, ifMatch(version))

/** A mark added to or taken from a finished session analyses it again before the answer comes. */
export const addMark = (sessionId: string, mark: NewMark) =>
  write<void>('POST', `/api/sessions/${id(sessionId)}/marks`, mark)

export const removeMark = (sessionId: string, markId: string) =>
  write<void>('DELETE', `/api/sessions/${id(sessionId)}/marks/${id(markId)}`)

export const loadReport = (sessionId: string, signal?: AbortSignal) =>
  read<Report>(reportUrl(sessionId), signal)

export const loadTimeline = (sessionId: string, signal?: AbortSignal) =>
  read<Timeline>(`/api/sessions/${id(sessionId)}/timeline`, signal)

export const loadHold = (sessionId: string, index: number, signal?: AbortSignal) =>
  read<HoldDetail>(`/api/sessions/${id(sessionId)}/holds/${index}`, signal)

/** What of the recording cannot be read because its stored samples are damaged; mostly nothing. */
export const loadUnreadable = (sessionId: string, signal?: AbortSignal) =>
  read<UnreadablePart[]>(`/api/sessions/${id(sessionId)}/unreadable`, signal)

export const reportUrl = (sessionId: string) => `/api/sessions/${id(sessionId)}/report`
export const traceUrl = (sessionId: string) => `/api/sessions/${id(sessionId)}/trace.csv`
/** Everything of a dog as a ZIP, which brings it back elsewhere. */
export const exportUrl = (dogId: string) => `/api/dogs/${id(dogId)}/export.zip`
/** What was measured, for clinical systems. */
export const fhirUrl = (dogId: string) => `/api/dogs/${id(dogId)}/fhir.json`
export const edfUrl = (sessionId: string) => `/api/sessions/${id(sessionId)}/trace.edf`

const id = encodeURIComponent
const diaryUrl = (dogId: string) => `/api/dogs/${id(dogId)}/diary`
const repetitionNotesUrl = (sessionId: string) => `/api/sessions/${id(sessionId)}/repetition-notes`

const trendQuery = (measure: MeasureName, { from, to }: { from: string | null; to: string | null }) =>
  new URLSearchParams({ measure, ...(from !== null && { from }), ...(to !== null && { to }) })

const ifMatch = (version: number) => ({ 'if-match': `"${version}"` })
/** Of what may not be there yet: null for nothing. */
const firstOr = (version: number | null): Record<string, string> =>
  version === null ? { 'if-none-match': '*' } : ifMatch(version)
