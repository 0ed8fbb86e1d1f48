import type {
  AuditFile,
  DiaryFile,
  DogFile,
  EditsFile,
  PlansFile,
  RepetitionNotesFile,
  SessionFile,
  StreamFile,
  TrendSettingsFile,
} from '../export/archive-files.ts'
import type { Author } from './changes.ts'
import type { AnalysisRecord, SessionState } from './records.ts'

/** What a dog has beside its sessions. */
export interface DogArchive {
  readonly dog: DogFile
  readonly plans: PlansFile
  readonly diary: DiaryFile
  readonly trendSettings: TrendSettingsFile
  readonly audit: AuditFile
  /** Of all its sessions, in the order of their ids. */
  readonly sessions: readonly { readonly id: string; readonly state: SessionState }[]
}

export interface SessionArchive {
  readonly session: SessionFile
  readonly edits: EditsFile
  readonly repetitionNotes: RepetitionNotesFile
  /** Null while nothing was measured. */
  readonly analysis: StoredAnalysis | null
  readonly stream: StreamFile | null
}

export interface StoredAnalysis extends Pick<AnalysisRecord, 'report' | 'timeline'> {
  readonly holds: readonly AnalysisRecord['holds'][number]['detail'][]
}

/** One of the ids that an archive brings is taken; nothing was changed. */
export class IdTakenError extends Error {
  override readonly name = 'IdTakenError'
  readonly what: string

  constructor(what: string, id: string) {
    super(`there is a ${what} ${id} already`)
    this.what = what
  }
}

/** The line that an import adds to the dog's trail. */
export interface Adoption {
  readonly by: Author
  readonly detail: object
}

/** Everything of one dog as it is stored, for the way out and back in. */
export interface Archives {
  /** Null when there is no such dog. Each call reads one consistent state. */
  dog(dogId: string): Promise<DogArchive | null>
  /** Null when there is no such session, or it is being recorded or analysed for the first time. */
  session(sessionId: string): Promise<SessionArchive | null>
  /**
   * Takes over the dog that a store in the folder `dataDir` holds, samples included: all of it or nothing,
   * whatever happens meanwhile. The folder stays. An author with an account becomes the owner.
   * @throws {IdTakenError} when an id of it is taken here
   */
  adopt(dataDir: string, told: Adoption): Promise<void>
}
