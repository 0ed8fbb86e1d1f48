import type { Problem } from '#protocol/resources'

/** Why a call to the server did not work; `problem` is what the server said, when it said something. */
export class ApiError extends Error {
  override readonly name = 'ApiError'
  readonly problem: Problem | null
  /** The server could not be reached at all. */
  readonly offline: boolean
  /** Of the answer; null without one. */
  readonly status: number | null
  /** How long the server asks to wait before the next try, s; null where it does not say. */
  readonly retryAfterS: number | null
  readonly #unreadable: boolean

  constructor(
    message: string,
    details: {
      problem?: Problem | null
      offline?: boolean
      status?: number
      unreadable?: boolean
      retryAfterS?: number | null
      cause?: unknown
    } = {},
  ) {
    super(message, { cause: details.cause })
    this.problem = details.problem ?? null
    this.offline = details.offline ?? false
    this.status = details.status ?? null
    this.retryAfterS = details.retryAfterS ?? null
    this.#unreadable = details.unreadable ?? false
  }

  /** Nobody is signed in, or not any more. */
  get signInFirst(): boolean {
    return this.problem?.code === 'SIGN_IN_FIRST'
  }

  /** What was asked for does not exist, or not any more. */
  get missing(): boolean {
    return this.status === 404
  }

  /** May pass without anybody changing anything: worth another try. */
  get passing(): boolean {
    return (
      this.offline ||
      this.#unreadable ||
      (this.status !== null && (this.status >= 500 || this.status === 429))
    )
  }
}

export const UNREACHABLE = 'The Swaybook server cannot be reached. Is it running, and is this device online?'

export const UNREADABLE =
  'What answered is not the Swaybook server. Perhaps another program runs at this address, or a proxy is in between.'

/** The problem in a response body, or null when the body is something else. */
export function problemOf(body: string): Problem | null {
  try {
    const value: unknown = JSON.parse(body)
    return isProblem(value) ? value : null
  } catch {
    // A proxy's HTML page is no problem document; the status line must do.
    return null
  }
}

function isProblem(value: unknown): value is Problem {
  return (
    typeof value === 'object' &&
    value !== null &&
    typeof (value as Problem).detail === 'string' &&
    typeof (value as Problem).status === 'number'
  )
}

/** What to tell for a refused request. */
export function errorOfResponse(status: number, body: string, retryAfter: string | null = null): ApiError {
  const problem = problemOf(body)
  // RFC 9110, 10.2.3: seconds, or a date, which Swaybook never sends.
  const retryAfterS = retryAfter !== null && /^\d+$/.test(retryAfter) ? Number(retryAfter) : null
  return new ApiError(problem?.detail ?? `The server answered with status ${status}.`, {
    problem,
    status,
    retryAfterS,
  })
}
