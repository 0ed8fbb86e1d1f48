import type { SessionSummary } from '#protocol/resources'
import { ServerError } from '../errors.ts'

/**
 * While a session is recorded its end is not known, and what is noted may come before its samples.
 * @throws {ServerError} for a moment beyond the end of a finished session
 */
export function requireWithin({ id, state, durationS }: SessionSummary, atS: number): void {
  if (state !== 'finished' || durationS === null || atS <= durationS) return
  throw new ServerError('MARK_BEYOND_END', { sessionId: id, atS, durationS: Number(durationS.toFixed(3)) })
}
