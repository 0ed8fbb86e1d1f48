import type { Share } from '#protocol/people'
import type { Author } from '../changes.ts'

export interface NewShareRecord {
  readonly id: string
  readonly dogId: string
  readonly scope: ShareScope
  readonly secretHash: string
  readonly expiresAt: string
}

export type ShareScope =
  | { readonly kind: 'live'; readonly sessionId: string }
  | { readonly kind: 'report'; readonly from: string; readonly to: string; readonly questions: string }

/** A share that works. */
export interface OpenShareRecord {
  readonly id: string
  readonly dogId: string
  readonly dogName: string
  readonly scope: ShareScope
  readonly createdAt: string
  readonly expiresAt: string
}

/** Links that show one session as it happens, or one report. */
export interface ShareRecords {
  add(share: NewShareRecord, by: Author): Promise<Share>
  /** Newest first; one that was over before `since` is left out. */
  ofDog(dogId: string, since: Date): Promise<Share[]>
  revoke(dogId: string, id: string, by: Author): Promise<boolean>
  /** Null once it is revoked or too old. */
  find(id: string, now: Date): Promise<OpenShareRecord | null>
  /** The same by its secret, counted as opened. */
  open(secretHash: string, now: Date): Promise<OpenShareRecord | null>
}
