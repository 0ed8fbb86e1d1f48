import type { SessionSummary, SetUp } from '#protocol/resources'
import { newestFirst } from './session-order'

/** Two set-ups are alike when words and spacing are: only such sessions share a trend line. */
export function sameSetUp(a: SetUp, b: SetUp): boolean {
  return (
    a.exercise === b.exercise &&
    a.surface === b.surface &&
    a.foreToHindCm === b.foreToHindCm &&
    a.leftToRightCm === b.leftToRightCm
  )
}

/** The session before this one, with the set-up somebody noted; undefined when there is none. */
export function lastWithSetUp(sessions: readonly SessionSummary[]) {
  return newestFirst(sessions).find(
    (session): session is SessionSummary & { setUp: SetUp } => session.setUp !== null,
  )
}

/** A set-up as typed: trimmed, without distances nobody gave. */
export function typedSetUp(
  exercise: string,
  surface: string,
  foreToHindCm: number | null,
  leftToRightCm: number | null,
): SetUp {
  return {
    exercise: exercise.trim(),
    surface: surface.trim(),
    ...(foreToHindCm !== null && { foreToHindCm }),
    ...(leftToRightCm !== null && { leftToRightCm }),
  }
}
