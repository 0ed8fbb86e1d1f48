import type { AuditEntry } from '#protocol/diary'

/** What every trail tells of an event, that of a dog and that of the installation. */
export type AuditedEvent = Pick<AuditEntry, 'seq' | 'at' | 'actor' | 'action' | 'detail'>

export interface EventPage<Entry> {
  readonly entries: readonly Entry[]
  /** Cursor of the page after it, null without any. */
  readonly next: string | null
}
