import type { HoldCorrection } from '#signal/session/hold-edits'
import type { Records } from '../store/records.ts'
import { shownS } from '../store/time-axis.ts'

/** People's corrections of the holds of a session, on the axis of an analysis with this scale. */
export async function storedHoldEdits(
  { edits }: Records,
  sessionId: string,
  scale: number,
): Promise<HoldCorrection[]> {
  const { holds = [] } = (await edits.edits(sessionId)) ?? {}
  return holds.map(({ kind, fromS, toS, reason }) => ({
    kind,
    fromS: shownS(fromS, scale),
    toS: shownS(toS, scale),
    reason,
  }))
}
