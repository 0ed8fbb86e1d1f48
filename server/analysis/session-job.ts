import { sessionPlan } from '../store/session-plan.ts'
import type { Store } from '../store/store.ts'
import { timeScale } from '../store/time-axis.ts'
import type { TraceJob } from './jobs.ts'
import { storedHoldEdits } from './stored-hold-edits.ts'
import { storedInput } from './stored-input.ts'

/** What the analysis of a stored session is made of; null when it holds no samples, or is gone. */
export async function sessionJob(
  store: Pick<Store, 'records' | 'series'>,
  sessionId: string,
): Promise<TraceJob | null> {
  const input = await storedInput(store, sessionId)
  const session = await store.records.session(sessionId)
  if (!input || !session) return null
  const { limits } = await sessionPlan(store.records, session)
  const holdEdits = await storedHoldEdits(store.records, sessionId, timeScale(input.clock))
  return { kind: 'trace', input, mount: session.mount, limits, holdEdits }
}
