import type { DiaryEntry, NewDiaryEntry } from '#protocol/diary'
import type { Author, Changed, Precondition } from './changes.ts'

/** Medication, events and notes of a dog. */
export interface DiaryRecords {
  /** By their first day, newest first; of one day the one written last first. */
  entries(dogId: string): Promise<DiaryEntry[]>
  /** Null without such a dog. */
  add(dogId: string, entry: NewDiaryEntry & { readonly id: string }, by: Author): Promise<DiaryEntry | null>
  change(
    dogId: string,
    entryId: string,
    entry: NewDiaryEntry,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<DiaryEntry>>
  remove(dogId: string, entryId: string, precondition: Precondition, by: Author): Promise<Changed<DiaryEntry>>
}
