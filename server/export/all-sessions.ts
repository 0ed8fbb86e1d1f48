import type { SessionSummary } from '#protocol/resources'
import type { Records } from '../store/records.ts'

const PAGE = 500

/** Every session of a dog, newest first. */
export async function allSessions(records: Records, dogId: string): Promise<SessionSummary[]> {
  const summaries: SessionSummary[] = []
  let cursor: string | undefined
  do {
    const page = await records.sessions({ dogId, limit: PAGE, cursor })
    summaries.push(...page.sessions)
    cursor = page.next ?? undefined
  } while (cursor !== undefined)
  return summaries
}
