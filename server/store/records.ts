import type {
  Dog,
  DogChange,
  HoldDetail,
  NewDog,
  SensorDescription,
  SessionSummary,
  SetUp,
  Timeline,
} from '#protocol/resources'
import type { StoredMark } from '#protocol/messages'
import type { HoldReport, Report } from '#signal/report-types'
import type { AuditRecords } from './audit.ts'
import type { Author, Changed, Precondition } from './changes.ts'
import type { DiaryRecords } from './diary.ts'
import type { EditRecords } from './edits.ts'
import type { CheckInRecords, PlanRecords } from './plans.ts'
import type { RepetitionNoteRecords } from './repetition-notes.ts'
import type { TrendSettingsRecords } from './trend-settings.ts'
import type { TrendSource } from './trend-source.ts'

export type SessionState = SessionSummary['state']

export interface NewSessionRecord {
  readonly id: string
  readonly dogId: string
  readonly sensor: string
  readonly fileName: string | null
  /** SHA-256 of the uploaded bytes; a dog has each content once. Null for a live session. */
  readonly contentHash: string | null
  readonly setUp: SetUp | null
  /** As `parseMount` reads it. */
  readonly mount: string
  readonly state: SessionState
  readonly startedAtUs: number | null
  readonly planned?: SessionSummary['planned']
  readonly sensorDescription?: SensorDescription | null
  readonly setUpConfirmed?: boolean
}

/** Everything one analysis yields; replaces what an earlier one left. */
export interface AnalysisRecord {
  readonly report: Report
  readonly timeline: Omit<Timeline, 'marks'>
  readonly holds: readonly { readonly measured: HoldReport; readonly detail: HoldDetail }[]
}

export interface ReanalysisTold {
  readonly by: Author
  readonly numbersMoved: number
}

export interface SessionQuery {
  readonly dogId?: string
  readonly limit: number
  /** `next` of the page before. */
  readonly cursor?: string
  /** Only of dogs this person has a role with. */
  readonly visibleTo?: string
}

export interface SessionPage {
  readonly sessions: SessionSummary[]
  readonly next: string | null
}

/** A dog's session with this content exists already. */
export class DuplicateContentError extends Error {
  override readonly name = 'DuplicateContentError'
  readonly sessionId: string

  constructor(sessionId: string) {
    super(`this content is stored as session ${sessionId}`)
    this.sessionId = sessionId
  }
}

/** There is a session of this id already. */
export class SessionExistsError extends Error {
  override readonly name = 'SessionExistsError'
}

/**
 * Dogs, sessions, marks and reports, and in parts of their own what else people write down. A promise resolves
 * once the change is durable. Reading something that is not there gives null; changing it gives false, or `missing`.
 * A change with an author is in the audit trail from the same moment on.
 */
export interface Records {
  readonly plans: PlanRecords
  readonly checkIns: CheckInRecords
  readonly edits: EditRecords
  readonly repetitionNotes: RepetitionNoteRecords
  readonly diary: DiaryRecords
  readonly trendSettings: TrendSettingsRecords
  readonly audit: AuditRecords
  readonly trends: TrendSource

  /** An author with an account becomes the owner of the dog. */
  addDog(dog: NewDog & { id: string }, by?: Author): Promise<void>
  dog(id: string): Promise<Dog | null>
  /** Those a person has a role with; all of them without one. */
  dogs(visibleTo?: string): Promise<Dog[]>
  changeDog(id: string, change: DogChange, precondition: Precondition, by: Author): Promise<Changed<Dog>>
  /** Removes the dog and everything recorded of it, samples and audit trail included, from the disk. */
  deleteDog(id: string, by?: Author): Promise<boolean>

  /**
   * @throws {DuplicateContentError} when the dog has a session with the same content hash
   * @throws {SessionExistsError} when there is a session of this id, of whatever dog
   */
  addSession(session: NewSessionRecord, by?: Author): Promise<void>
  session(id: string): Promise<SessionSummary | null>
  /** What people wrote about it. */
  sessionNotes(sessionId: string): Promise<string | null>
  /** What the sensor said of itself when the session was opened. */
  sensorDescription(sessionId: string): Promise<SensorDescription | null>
  /** Newest first by start (by creation while the start is unknown). */
  sessions(query: SessionQuery): Promise<SessionPage>
  /** Ids of all sessions of a dog. */
  sessionIds(dogId: string): Promise<string[]>
  sessionsInState(state: SessionState): Promise<SessionSummary[]>
  sessionWithContent(dogId: string, contentHash: string): Promise<string | null>
  /** What the server finds out about a session by itself; its version stays. */
  updateSession(id: string, change: SessionChange): Promise<boolean>
  /** The same where a person, the author, ended the recording. */
  endSession(id: string, change: SessionChange, by: Author): Promise<boolean>
  /** What a person corrects; the summary comes with its notes. */
  changeSession(
    id: string,
    change: SessionCorrection,
    precondition: Precondition,
    by: Author,
  ): Promise<Changed<SessionSummary>>
  /**
   * Keeps in the audit trail what happened, without what it quotes of the session. Without an author, for one that
   * was never finished, nothing of it stays.
   */
  deleteSession(id: string, by?: Author): Promise<boolean>

  /** False when the session has a mark of this id already: nothing is changed then. */
  addMark(sessionId: string, mark: StoredMark, by?: Author): Promise<boolean>
  addMarks(sessionId: string, marks: readonly StoredMark[]): Promise<void>
  /** Ascending in time; marks of one instant in the order they came. */
  marks(sessionId: string): Promise<StoredMark[]>
  deleteMark(sessionId: string, markId: string, by?: Author): Promise<boolean>

  /**
   * Stores the analysis, its summary figures and the state `finished` in one transaction. `told` where somebody asked
   * for nothing but that: the audit trail has which analysis it was and is, then, and how many numbers moved.
   */
  saveAnalysis(sessionId: string, analysis: AnalysisRecord, told?: ReanalysisTold): Promise<void>
  /** Of the report: seconds people see per second in which marks are stored (see time-axis.ts). */
  timeScale(sessionId: string): Promise<number>
  report(sessionId: string): Promise<Report | null>
  timeline(sessionId: string): Promise<Omit<Timeline, 'marks'> | null>
  hold(sessionId: string, index: number): Promise<HoldDetail | null>
}

export interface SessionChange {
  readonly state?: SessionState
  readonly startedAtUs?: number
  readonly rateHz?: number
  readonly problem?: string | null
}

/** As `SessionChangeBody`, read. */
export interface SessionCorrection {
  readonly setUp?: SetUp | null
  readonly mount?: string
  readonly startedAtUs?: number
  readonly notes?: string | null
  readonly excluded?: { readonly reason: string } | null
  readonly setUpConfirmed?: boolean
}
