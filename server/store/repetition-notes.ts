import type { NewRepetitionNote, RepetitionNote } from '#protocol/session-review'
import type { Author, Changed, Precondition } from './changes.ts'

/** Notes on repetitions; their times are stored as those of marks are (see time-axis.ts). */
export interface RepetitionNoteRecords {
  /** Ascending in time. */
  notes(sessionId: string): Promise<RepetitionNote[]>
  /** Adds the note or replaces the one of this id; `missing` without such a session. */
  set(
    sessionId: string,
    noteId: string,
    note: NewRepetitionNote,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<RepetitionNote>>
  remove(
    sessionId: string,
    noteId: string,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<RepetitionNote>>
}
