import { planInForce } from '#protocol/plan-in-force'
import { stopLimitsOf } from '#protocol/plan-limits'
import type { Plan, SessionSummary, SetUp } from '#protocol/resources'
import type { StopLimits } from '#signal/live/stop-limits'
import { planWarnings } from '#signal/session/plan-warnings'
import type { Report } from '#signal/report-types'

/** What a recording followed, and the limits it is held against. */
export interface Followed {
  readonly planned: NonNullable<SessionSummary['planned']>
  readonly limits: StopLimits
}

/**
 * The exercise a recording from a file followed: that of the plan in force on its UTC day with the same exercise
 * and surface, the one whose measures agree too if several have. Null without a date, a set-up or a match.
 */
export function followedBy(
  plans: readonly Plan[],
  startedAtUs: number | null,
  setUp: SetUp | null,
): Followed | null {
  if (startedAtUs === null || setUp === null) return null
  const plan = planInForce(plans, new Date(startedAtUs / 1000).toISOString().slice(0, 10))
  if (!plan) return null
  const matches = plan.exercises.filter(({ setUp: asked }) => wordsOf(asked) === wordsOf(setUp))
  const exercise = matches.find(({ setUp: asked }) => agrees(asked, setUp)) ?? matches[0]
  if (!exercise) return null
  return {
    planned: { planVersion: plan.version, exerciseId: exercise.id },
    limits: stopLimitsOf(plan, exercise.id),
  }
}

/** A report with its warnings by other limits: nothing that was measured depends on them. */
export function heldAgainst(report: Report, limits: StopLimits): Report {
  const { session, trace, holds } = report
  const exercise = holds.filter(({ role }) => role === 'exercise')
  const warnings = planWarnings(trace.durationS, exercise, session.repetitions, limits)
  return { ...report, session: { ...session, planWarnings: warnings, limitsBasis: limits.basis } }
}

function wordsOf({ exercise, surface }: SetUp): string {
  return [exercise, surface].map((words) => words.trim().replace(/\s+/g, ' ').toLowerCase()).join('\n')
}

/** No measure that both state differs. */
function agrees(a: SetUp, b: SetUp): boolean {
  const measures = ['foreToHindCm', 'leftToRightCm', 'heightCm', 'firmness', 'unstable'] as const
  return measures.every((name) => a[name] === undefined || b[name] === undefined || a[name] === b[name])
}
