import { unsavedNotesPrefix, UnsavedStore } from './unsaved-store'

/** Notes on a session that are not on the server yet. */
export interface UnsavedNotes {
  readonly text: string
  /** When they were last changed, ISO 8601. */
  readonly at: string
}

/** Keeps them in this browser until they are saved, or dropped on a later visit. */
export const unsavedNotes = (sessionId: string, page: string, storage?: Storage | null) =>
  new UnsavedStore<UnsavedNotes>(
    unsavedNotesPrefix(sessionId),
    page,
    ({ text }) => typeof text === 'string',
    storage,
  )
