import type { AuditFile } from '../archive-files.ts'

/** What people corrected of a session after it had been recorded. */
export interface Corrections {
  /** Marks, holds, mount or start: what was measured may be another number. */
  readonly measured: boolean
  /** The start: everything told of it moved in time. */
  readonly start: boolean
}

const NONE: Corrections = { measured: false, start: false }
const OF_EDITS = new Set(['edits.changed', 'mark.added', 'mark.removed'])

/**
 * The corrections of each session by the audit trail. Marks made while it was being recorded are part of the
 * recording; a change that was taken back is a change all the same.
 */
export function correctionsOf(audit: AuditFile): (sessionId: string) => Corrections {
  const bySession = new Map<string, Corrections>()
  for (const { sessionId, action, detail } of audit) {
    if (sessionId === null) continue
    const { whileRecording, after } = detailOf(detail)
    if (whileRecording === true) continue
    const fields = action === 'session.changed' && typeof after === 'object' ? Object.keys(after ?? {}) : []
    const start = fields.includes('startedAt')
    const measured = start || fields.includes('mount') || OF_EDITS.has(action)
    const before = bySession.get(sessionId) ?? NONE
    bySession.set(sessionId, { measured: before.measured || measured, start: before.start || start })
  }
  return (sessionId) => bySession.get(sessionId) ?? NONE
}

function detailOf(detail: unknown): { whileRecording?: unknown; after?: unknown } {
  return typeof detail === 'object' && detail !== null ? detail : {}
}
