import type { AuditEntry } from '#protocol/diary'

export interface AuditPage {
  readonly entries: AuditEntry[]
  readonly next: string | null
}

/**
 * What people changed about a dog. Rows are written by the store itself, in the transaction of the change they
 * tell of, and go with their dog; of a deleted session only what happened and when stays, with its id.
 */
export interface AuditRecords {
  /** Newest first; `cursor` is `next` of the page before. */
  page(dogId: string, query: { readonly limit: number; readonly cursor?: string }): Promise<AuditPage>
}
