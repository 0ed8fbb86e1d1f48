import type { Problem } from '#protocol/resources'

/** Why a call to the server did not work; `problem` is what the server said, when it said something. */
export class ApiError extends Error {
  override readonly name = 'ApiError'
  readonly problem: Problem | null
  /** The server could not be reached at all. */
  readonly offline: boolean

  constructor(
    message: string,
    details: { problem?: Problem | null; offline?: boolean; cause?: unknown } = {},
  ) {
    super(message, { cause: details.cause })
    this.problem = details.problem ?? null
    this.offline = details.offline ?? false
  }
}

export const UNREACHABLE = 'The Swaybook server cannot be reached. Is it running, and is this device online?'

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
export function errorOfResponse(status: number, body: string): ApiError {
  const problem = problemOf(body)
  return new ApiError(problem?.detail ?? `The server answered with status ${status}.`, { problem })
}
