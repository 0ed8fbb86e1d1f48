import type { StoredMark } from '#protocol/messages'
import type { HoldEdit } from '#protocol/session-review'
import type { Author, Changed, Precondition } from './changes.ts'

/** What people say about the course of a session; times as they are stored (see time-axis.ts). */
export interface StoredEdits {
  /** Ascending in time; marks of one instant in the order they came. */
  readonly marks: readonly StoredMark[]
  /** Ascending by their beginning. */
  readonly holds: readonly HoldEdit[]
}

export interface ReplacedEdits {
  readonly version: number
  /** False when the very same was stored already: nothing was changed, and the version is the one before. */
  readonly differs: boolean
}

export interface EditRecords {
  /** Null without such a session. */
  edits(sessionId: string): Promise<(StoredEdits & { readonly version: number }) | null>
  /** Replaces all marks and corrected holds of a session; gives the version from now on. */
  replace(
    sessionId: string,
    edits: StoredEdits,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<ReplacedEdits>>
  /** What people removed or moved, as it was stored, newest first: what an undo may bring back. */
  removedMarks(sessionId: string): Promise<StoredMark[]>
}
