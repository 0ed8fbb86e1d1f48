import { Type } from 'typebox'
import { ServerError } from '../errors.ts'

export const StartedAt = Type.String({
  maxLength: 40,
  description: 'When the recording began: ISO 8601, e.g. 2026-03-01T17:30:00Z',
})

const EARLIEST_MS = Date.UTC(1970, 0, 1)
const LATEST_MS = Date.UTC(2200, 0, 1)

/**
 * UTC µs of an ISO 8601 date and time; without a zone it is local time here.
 * @throws {ServerError} for other text and years a recording cannot be of
 */
export function startUs(text: string): number {
  const ms = /^\d{4}-\d{2}-\d{2}T/.test(text) ? Date.parse(text) : NaN
  if (ms >= EARLIEST_MS && ms < LATEST_MS) return ms * 1000
  const reason = Number.isFinite(ms)
    ? `startedAt ${JSON.stringify(text)} is not between 1970 and 2200.`
    : `startedAt ${JSON.stringify(text)} is not a time such as 2026-03-01T17:30:00Z.`
  throw new ServerError('REQUEST_INVALID', { reason })
}
