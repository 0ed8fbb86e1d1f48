import type { SessionSummary, SetUp } from '#protocol/resources'
import { newestFirst } from './session-order'

/** Two set-ups are alike when every word and number is: only such sessions share a trend line. */
export function sameSetUp(a: SetUp, b: SetUp): boolean {
  return (
    a.exercise === b.exercise &&
    a.surface === b.surface &&
    a.foreToHindCm === b.foreToHindCm &&
    a.leftToRightCm === b.leftToRightCm &&
    a.heightCm === b.heightCm &&
    a.firmness === b.firmness &&
    a.unstable === b.unstable
  )
}

/** The session before this one, with the set-up somebody noted; undefined when there is none. */
export function lastWithSetUp(sessions: readonly SessionSummary[]) {
  return newestFirst(sessions).find(
    (session): session is SessionSummary & { setUp: SetUp } => session.setUp !== null,
  )
}

/** A set-up as a form holds it: null where nobody says. */
export interface SetUpDraft {
  exercise: string
  surface: string
  foreToHindCm: number | null
  leftToRightCm: number | null
  heightCm: number | null
  firmness: NonNullable<SetUp['firmness']> | null
  unstable: boolean | null
}

/** What a form begins with; empty without a set-up. */
export function setUpDraft(setUp: SetUp | null = null): SetUpDraft {
  return {
    exercise: setUp?.exercise ?? '',
    surface: setUp?.surface ?? '',
    foreToHindCm: setUp?.foreToHindCm ?? null,
    leftToRightCm: setUp?.leftToRightCm ?? null,
    heightCm: setUp?.heightCm ?? null,
    firmness: setUp?.firmness ?? null,
    unstable: setUp?.unstable ?? null,
  }
}

/** A set-up as typed: words trimmed, without what nobody gave. */
export function typedSetUp(draft: SetUpDraft): SetUp {
  const { foreToHindCm, leftToRightCm, heightCm, firmness, unstable } = draft
  return {
    exercise: draft.exercise.trim(),
    surface: draft.surface.trim(),
    ...(foreToHindCm !== null && { foreToHindCm }),
    ...(leftToRightCm !== null && { leftToRightCm }),
    ...(heightCm !== null && { heightCm }),
    ...(firmness !== null && { firmness }),
    ...(unstable !== null && { unstable }),
  }
}
