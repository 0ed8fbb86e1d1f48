import type { SessionSummary } from '#protocol/resources'
import type { Author, Changed, Precondition } from '../changes.ts'
import type { SessionCorrection } from '../records.ts'
import { auditQuery, differences, whileRecording } from './audit.ts'
import type { AuditLine } from './audit.ts'
import type { Connection } from './connection.ts'
import { setUpColumns, setUpOf, summaryOf } from './session-rows.ts'
import { sessionQuery } from './session-query.ts'

/**
 * What was said already changes nothing, and the version stays. A set-up was confirmed as it was noted: another one
 * is unconfirmed until somebody says so of it.
 */
export function changeSession(
  { db, together }: Connection,
  id: string,
  asked: SessionCorrection,
  precondition: Precondition,
  by: Author,
): Changed<SessionSummary> {
  return together(({ rows, run }) => {
    const read = () => {
      const [row] = rows(sessionQuery(db).where('sessions.id', '=', id).compile())
      return row ? { ...summaryOf(row), notes: row.notes } : null
    }
    const before = read()
    if (!before) return { kind: 'missing' }
    if (!precondition(before.version)) return { kind: 'other version', version: before.version }
    const now = new Date().toISOString()
    const change = completed(before, asked)
    const lines = auditLines(before, change)
    if (lines.length === 0) return { kind: 'changed', record: before }
    run(
      db
        .updateTable('sessions')
        .set({ ...changedColumns(before, change, now), version: before.version + 1 })
        .where('id', '=', id)
        .compile(),
    )
    for (const line of lines) run(auditQuery(db, by, { dogId: before.dogId, sessionId: id, ...line }))
    return { kind: 'changed', record: read()! }
  })
}

type Before = SessionSummary & { notes: string | null }

interface Change extends SessionCorrection {
  /** True when a confirmation is of another set-up than the one before. */
  readonly confirmsAnew: boolean
}

/** With what follows from the change of a set-up. */
function completed(before: Before, asked: SessionCorrection): Change {
  // As it will be read: the order of its fields says nothing.
  const setUp = asked.setUp === undefined ? undefined : setUpOf(setUpColumns(asked.setUp))
  const isOther = setUp !== undefined && JSON.stringify(setUp) !== JSON.stringify(before.setUp)
  const setUpConfirmed = asked.setUpConfirmed ?? (isOther ? false : undefined)
  return { ...asked, setUp, setUpConfirmed, confirmsAnew: isOther && setUpConfirmed === true }
}

/** Whether the confirmation becomes another one. */
function changesConfirmation(before: Before, { setUpConfirmed, confirmsAnew }: Change): boolean {
  return (
    setUpConfirmed !== undefined && (confirmsAnew || setUpConfirmed !== (before.setUpConfirmedAt !== null))
  )
}

function changedColumns(before: Before, change: Change, now: string) {
  const { setUp, mount, startedAtUs, notes, excluded, setUpConfirmed } = change
  return {
    ...(setUp !== undefined && setUpColumns(setUp)),
    ...(mount !== undefined && { mount }),
    // A start that is only confirmed keeps its microseconds.
    ...(startedAtUs !== undefined &&
      isoOf(startedAtUs) !== before.startedAt && { started_at_us: startedAtUs, ordered_at_us: startedAtUs }),
    ...(notes !== undefined && { notes }),
    ...(excluded !== undefined &&
      excluded?.reason !== before.excluded?.reason && {
        excluded_reason: excluded?.reason ?? null,
        excluded_at: excluded && now,
      }),
    ...(changesConfirmation(before, change) && { set_up_confirmed_at: setUpConfirmed ? now : null }),
  }
}

/** One line for what a list of changes says with a word of its own, one for all the rest. */
function auditLines(before: Before, change: Change): Pick<AuditLine, 'action' | 'detail'>[] {
  const { setUp, mount, startedAtUs, notes, excluded, setUpConfirmed } = change
  const detail = differences<Before>(before, {
    ...(setUp !== undefined && { setUp }),
    ...(mount !== undefined && { mount }),
    ...(startedAtUs !== undefined && { startedAt: isoOf(startedAtUs) }),
    ...(notes !== undefined && { notes }),
  })
  return [
    ...(detail
      ? [{ action: 'session.changed', detail: { ...detail, ...whileRecording(before.state) } }]
      : []),
    ...(excluded && excluded.reason !== before.excluded?.reason
      ? [{ action: 'session.excluded', detail: { reason: excluded.reason, before: before.excluded } }]
      : []),
    ...(excluded === null && before.excluded
      ? [{ action: 'session.included', detail: { before: before.excluded } }]
      : []),
    ...(changesConfirmation(before, change)
      ? [{ action: setUpConfirmed ? 'session.set-up-confirmed' : 'session.set-up-unconfirmed' }]
      : []),
  ]
}

function isoOf(us: number): string {
  return new Date(us / 1000).toISOString()
}
