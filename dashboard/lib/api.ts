import type {
  CheckIn,
  Dog,
  HoldDetail,
  NewDog,
  NewMark,
  NewPlan,
  NewSession,
  Pairing,
  Plan,
  RedeemedPairing,
  SessionSummary,
  SetUp,
  Timeline,
} from '#protocol/resources'
import type { Report } from '#signal/report-types'
import { noteAnswer } from './from-device.svelte'
import { ApiError, errorOfResponse, UNREACHABLE } from './problem'

/** One function per call. All throw an ApiError that says what to tell. */

export const listDogs = (signal?: AbortSignal) => read<Dog[]>('/api/dogs', signal)

export const loadDog = (dogId: string, signal?: AbortSignal) => read<Dog>(`/api/dogs/${id(dogId)}`, signal)

export const createDog = (dog: NewDog) => write<Dog>('POST', '/api/dogs', dog)

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
  write<Plan>(
    'PUT',
    `/api/dogs/${id(dogId)}/plan`,
    plan,
    version === null ? { 'if-none-match': '*' } : { 'if-match': `"${version}"` },
  )

/** The answer of the morning after a session; replaces an earlier one. */
export const saveCheckIn = (sessionId: string, checkIn: CheckIn) =>
  write<NonNullable<SessionSummary['checkIn']>>('PUT', `/api/sessions/${id(sessionId)}/check-in`, checkIn)

interface SessionPage {
  sessions: SessionSummary[]
  next: string | null
}

/** All sessions of a dog, newest first. */
export async function listSessions(dogId: string, signal?: AbortSignal): Promise<SessionSummary[]> {
  const sessions: SessionSummary[] = []
  let cursor: string | null = null
  do {
    const query = new URLSearchParams({ dogId, limit: '500', ...(cursor !== null && { cursor }) })
    const page: SessionPage = await read<SessionPage>(`/api/sessions?${query}`, signal)
    sessions.push(...page.sessions)
    cursor = page.next
  } while (cursor !== null)
  return sessions
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

export interface SessionChange {
  setUp?: SetUp | null
  mount?: string
  /** ISO 8601. */
  startedAt?: string
}

/** Another mount is analysed before the answer comes. */
export const changeSession = (sessionId: string, change: SessionChange) =>
  write<SessionSummary>('PATCH', `/api/sessions/${id(sessionId)}`, change)

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

export const reportUrl = (sessionId: string) => `/api/sessions/${id(sessionId)}/report`
export const traceUrl = (sessionId: string) => `/api/sessions/${id(sessionId)}/trace.csv`
export const edfUrl = (sessionId: string) => `/api/sessions/${id(sessionId)}/trace.edf`

const id = encodeURIComponent

async function read<T>(url: string, signal?: AbortSignal): Promise<T> {
  return request<T>(url, { signal })
}

async function write<T>(
  method: 'POST' | 'PUT' | 'PATCH' | 'DELETE',
  url: string,
  body?: object,
  headers: Record<string, string> = {},
): Promise<T> {
  if (body === undefined) return request<T>(url, { method })
  return request<T>(url, {
    method,
    headers: { 'content-type': 'application/json', ...headers },
    body: JSON.stringify(body),
  })
}

async function request<T>(url: string, init: RequestInit): Promise<T> {
  let response: Response
  try {
    response = await fetch(url, init)
  } catch (cause) {
    throw new ApiError(UNREACHABLE, { offline: true, cause })
  }
  noteAnswer(response)
  const text = await response.text()
  if (!response.ok) throw errorOfResponse(response.status, text)
  return (text === '' ? undefined : JSON.parse(text)) as T
}
