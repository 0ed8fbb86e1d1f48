import type { AuditEntry } from '#protocol/diary'
import type { Author } from './changes.ts'

export interface AuditPage {
  readonly entries: AuditEntry[]
  readonly next: string | null
}

/**
 * What people changed about a dog. Rows are written by the store itself, in the transaction of the change they
 * tell of, and go with their dog; of a deleted session only what happened and when stays, with its id.
 */
export interface AuditRecords {
  /** For what changes nothing in the store; all else is told by the change itself. */
  tell(dogId: string, sessionId: string, action: string, by: Author): Promise<void>

  /** Newest first; `cursor` is `next` of the page before. */
  page(dogId: string, query: { readonly limit: number; readonly cursor?: string }): Promise<AuditPage>
}
