import type {
  DiaryFile,
  EditsFile,
  PlansFile,
  RepetitionNotesFile,
  SessionFile,
  StreamFile,
} from '../export/archive-files.ts'
import { ServerError } from '../errors.ts'
import { liveColumnNames } from '../ingest/frame-columns.ts'
import { checkDays } from '../routes/check-days.ts'
import { checkEdits } from '../routes/check-edits.ts'
import { checkMount } from '../routes/mount.ts'
import { checkPlan } from '../routes/check-plan.ts'
import { ArchiveError, EXPORT_AGAIN } from './archive-error.ts'

/*
 * What a schema cannot see, by the same checks as when it is said to the server: a file may have been changed
 * together with its hash, and what no route takes must not get in this way.
 */

/** @throws {ArchiveError} naming file and place */
export function checkPlans(plans: PlansFile, file: string): void {
  for (const [i, { version, plan }] of plans.entries()) {
    requireSame(version, i + 1, file, `/${i}/version`)
    passes(() => checkPlan(plan), file, `/${i}/plan`)
  }
}

/** @throws {ArchiveError} naming file and place */
export function checkDiary(diary: DiaryFile, file: string): void {
  for (const [i, entry] of diary.entries()) passes(() => checkDays(entry), file, `/${i}`)
}

/** @throws {ArchiveError} for a mount nobody can read, or an exercise that no plan of the archive has */
export function checkSession({ mount, planned }: SessionFile, plans: PlansFile, file: string): void {
  passes(() => checkMount(mount), file, '/mount')
  if (!planned) return
  const plan = plans.find(({ version }) => version === planned.planVersion)
  if (plan?.plan.exercises.some(({ id }) => id === planned.exerciseId)) return
  const reason = `plans.json has no version ${planned.planVersion} with an exercise ${planned.exerciseId}`
  throw invalid(file, '/planned', `${reason}.`)
}

/**
 * What lies beyond the end is left to the analysis, which says that it does not fit: the end may have moved
 * since it was said.
 * @throws {ArchiveError} naming file and place
 */
export function checkEditsFile(edits: EditsFile, sessionId: string, file: string): void {
  const { marks, holds } = edits
  // The order of what happens at the same moment is that of the file.
  requireAscending(marks, ({ atS }) => atS, file, '/marks')
  requireAscending(holds, ({ fromS }) => fromS, file, '/holds')
  passes(() => checkEdits(edits, edits.marks, { id: sessionId, durationS: null }), file, '/holds')
}

/** @throws {ArchiveError} naming file and place */
export function checkNotes(notes: RepetitionNotesFile, file: string): void {
  requireAscending(notes, ({ atS }) => atS, file, '')
}

/** @throws {ArchiveError} for columns that no sensor and no uploaded trace has */
export function checkColumns({ kind, columns }: StreamFile, file: string): void {
  const time = kind === 'trace' ? ['t'] : []
  const known = ([3, 6] as const).map((channels) => [...time, ...liveColumnNames(channels)].join(','))
  if (known.includes(columns.join(','))) return
  throw invalid(file, '/columns', `${columns.join(',')} is neither ${known.join(' nor ')}.`)
}

/** @throws {ArchiveError} unless the two are the same */
export function requireSame(
  value: string | number,
  expected: string | number,
  file: string,
  place: string,
): void {
  if (value !== expected) throw invalid(file, place, `${expected} belongs here.`)
}

export function invalid(file: string, place: string, reason: string): ArchiveError {
  return new ArchiveError('ARCHIVE_CONTENT_INVALID', `${file}, ${place || 'the whole'}: ${reason}`, {
    file,
    remedy: EXPORT_AGAIN,
  })
}

function requireAscending<T>(rows: readonly T[], at: (row: T) => number, file: string, place: string): void {
  const bad = rows.findIndex((row, i) => i > 0 && at(row) < at(rows[i - 1]))
  if (bad >= 0) throw invalid(file, `${place}/${bad}`, 'this is out of order in time.')
}

function passes(check: () => void, file: string, place: string): void {
  try {
    check()
  } catch (error) {
    if (!(error instanceof ServerError)) throw error
    throw invalid(file, place, error.message)
  }
}
