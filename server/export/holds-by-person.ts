import type { StoredAnalysis } from '../store/archives.ts'

/** What people made of the holds that were found; the numbers of the session follow it. */
export interface HoldsByPerson {
  /** Holds whose bounds a person set. */
  readonly set: number
  /** Holds that count for nothing because a person said so. */
  readonly leftOut: number
}

/** Null while nothing was measured. */
export function holdsByPerson(analysis: StoredAnalysis | null): HoldsByPerson | null {
  if (!analysis) return null
  const { holds, session } = analysis.report
  return {
    set: holds.filter(({ setBy }) => setBy === 'person').length,
    leftOut: session.leftOutHolds?.length ?? 0,
  }
}
