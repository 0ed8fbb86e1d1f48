import type { DiaryEntry, NewDiaryEntry } from '#protocol/diary'
import type {
  CheckIn,
  Dog,
  NewDog,
  NewPlan,
  NewSession,
  Plan,
  Problem,
  SessionChangeBody,
  SessionSummary,
} from '#protocol/resources'
import type { NewRepetitionNote } from '#protocol/session-review'

/** A request the server refused. */
export class DemoRequestError extends Error {
  override readonly name = 'DemoRequestError'
  readonly problem: Problem

  constructor(problem: Problem) {
    super(problem.detail)
    this.problem = problem
  }
}

/** The calls the demo makes: the public API, like any other client. */
export class DemoApi {
  readonly #baseUrl: string
  readonly #cookie: string

  /** @param cookie what lets it in, as a browser would send it */
  constructor(baseUrl: string, cookie: string) {
    this.#baseUrl = baseUrl
    this.#cookie = cookie
  }

  get cookie(): string {
    return this.#cookie
  }

  get liveUrl(): string {
    return `${this.#baseUrl.replace(/^http/, 'ws')}/api/live/send`
  }

  dogs(): Promise<Dog[]> {
    return this.#call('/api/dogs')
  }

  addDog(dog: NewDog): Promise<Dog> {
    return this.#call('/api/dogs', jsonBody(dog))
  }

  plan(dogId: string): Promise<Plan> {
    return this.#call(`/api/dogs/${dogId}/plan`)
  }

  /** The version after `after`, or the first one after 0; refused when the newest is another one. */
  setPlan(dogId: string, plan: NewPlan, after: number): Promise<Plan> {
    const condition: Record<string, string> =
      after === 0 ? { 'if-none-match': '*' } : { 'if-match': `"${after}"` }
    return this.#call(`/api/dogs/${dogId}/plan`, put(plan, condition))
  }

  diary(dogId: string): Promise<DiaryEntry[]> {
    return this.#call(`/api/dogs/${dogId}/diary`)
  }

  addDiaryEntry(dogId: string, entry: NewDiaryEntry): Promise<DiaryEntry> {
    return this.#call(`/api/dogs/${dogId}/diary`, jsonBody(entry))
  }

  /** Refused unless the session is still at `version`. */
  changeSession(sessionId: string, change: SessionChangeBody, version: number): Promise<SessionSummary> {
    return this.#call(`/api/sessions/${sessionId}`, {
      ...put(change, { 'if-match': `"${version}"` }),
      method: 'PATCH',
    })
  }

  /** Refused when the session has a note of this id. */
  addRepetitionNote(sessionId: string, noteId: string, note: NewRepetitionNote): Promise<unknown> {
    return this.#call(
      `/api/sessions/${sessionId}/repetition-notes/${noteId}`,
      put(note, { 'if-none-match': '*' }),
    )
  }

  checkIn(sessionId: string, checkIn: CheckIn): Promise<CheckIn> {
    return this.#call(`/api/sessions/${sessionId}/check-in`, put(checkIn))
  }

  addSession(session: NewSession): Promise<SessionSummary> {
    return this.#call('/api/sessions', jsonBody(session))
  }

  async sessions(dogId: string): Promise<SessionSummary[]> {
    const all: SessionSummary[] = []
    let cursor: string | null = null
    do {
      const query = new URLSearchParams({ dogId, limit: '200', ...(cursor !== null && { cursor }) })
      const page: { sessions: SessionSummary[]; next: string | null } = await this.#call(
        `/api/sessions?${query}`,
      )
      all.push(...page.sessions)
      cursor = page.next
    } while (cursor !== null)
    return all
  }

  deleteSession(id: string): Promise<void> {
    return this.#call(`/api/sessions/${id}`, { method: 'DELETE' })
  }

  uploadTrace(
    dogId: string,
    file: string,
    csv: string,
    fields: Record<string, string>,
  ): Promise<SessionSummary> {
    const body = new FormData()
    for (const [name, value] of Object.entries(fields)) body.set(name, value)
    body.set('file', new Blob([csv], { type: 'text/csv' }), file)
    return this.#call(`/api/dogs/${dogId}/traces`, { method: 'POST', body })
  }

  async #call<T>(path: string, init: RequestInit = {}): Promise<T> {
    const headers = { ...init.headers, ...cookieHeader(this.#cookie) }
    const response = await fetch(`${this.#baseUrl}${path}`, { ...init, headers })
    if (response.ok) return (response.status === 204 ? undefined : await response.json()) as T
    throw new DemoRequestError((await response.json()) as Problem)
  }
}

/** Nothing where nobody has to sign in. */
export function cookieHeader(cookie: string): Record<string, string> {
  return cookie === '' ? {} : { cookie }
}

function put(body: unknown, condition: Record<string, string> = {}) {
  const { headers, ...rest } = jsonBody(body)
  return { ...rest, method: 'PUT', headers: { ...headers, ...condition } }
}

function jsonBody(body: unknown) {
  return { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }
}
