import type {
  CheckIn,
  Dog,
  NewDog,
  NewPlan,
  NewSession,
  Plan,
  Problem,
  SessionSummary,
} from '#protocol/resources'

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

  constructor(baseUrl: string) {
    this.#baseUrl = baseUrl
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

  /** The first version; refused when the dog has a plan. */
  setFirstPlan(dogId: string, plan: NewPlan): Promise<Plan> {
    const { headers, body } = jsonBody(plan)
    const first = { ...headers, 'if-none-match': '*' }
    return this.#call(`/api/dogs/${dogId}/plan`, { method: 'PUT', headers: first, body })
  }

  checkIn(sessionId: string, checkIn: CheckIn): Promise<CheckIn> {
    return this.#call(`/api/sessions/${sessionId}/check-in`, { ...jsonBody(checkIn), method: 'PUT' })
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
    const response = await fetch(`${this.#baseUrl}${path}`, init)
    if (response.ok) return (response.status === 204 ? undefined : await response.json()) as T
    throw new DemoRequestError((await response.json()) as Problem)
  }
}

function jsonBody(body: unknown) {
  return { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }
}
