import type { CompiledQuery } from 'kysely'
import { sessionFigures, tremorRmsMs2 } from '#server/analysis/figures'
import type { AnalysisRecord } from '../records.ts'
import { timeScale } from '../time-axis.ts'
import type { Connection } from './connection.ts'

/** The statements that replace a session's report, holds and figures, to be run in one transaction. */
export function analysisQueries(
  db: Connection['db'],
  sessionId: string,
  analysis: AnalysisRecord,
): CompiledQuery[] {
  const { report, timeline, holds } = analysis
  const figures = sessionFigures(report)
  return [
    db.deleteFrom('reports').where('session_id', '=', sessionId).compile(),
    db.deleteFrom('holds').where('session_id', '=', sessionId).compile(),
    db
      .insertInto('reports')
      .values({
        session_id: sessionId,
        report: JSON.stringify(report),
        timeline: JSON.stringify(timeline),
        analysis_version: report.version,
        created_at: new Date().toISOString(),
      })
      .compile(),
    ...holds.map(({ measured, detail }, index) =>
      db
        .insertInto('holds')
        .values({
          session_id: sessionId,
          hold_index: index,
          from_s: measured.fromS,
          to_s: measured.toS,
          hands_off_s: measured.handsOffS,
          ended_by: measured.endedBy,
          sway_ms2: measured.sway.rms.horizontal,
          tremor_ms2: tremorRmsMs2(measured),
          detail: JSON.stringify(detail),
        })
        .compile(),
    ),
    db
      .updateTable('sessions')
      .set({
        state: 'finished',
        problem: null,
        duration_s: figures.durationS,
        rate_hz: figures.rateHz,
        verdict: figures.verdict,
        holds: figures.holds,
        hold_s: figures.holdS,
        hands_off_hold_s: figures.handsOffHoldS,
        best_hold_s: figures.bestHoldS,
        sway_ms2: figures.swayMs2,
        tremor_ms2: figures.tremorMs2,
        comparable_sway_ms2: figures.comparableSwayMs2,
        comparable_tremor_ms2: figures.comparableTremorMs2,
        repetitions: figures.repetitions,
        support_share: figures.supportShare,
        fatigue_ratio: figures.fatigueRatio,
        plan_warnings: figures.planWarnings,
        comparable_path_rate: figures.comparablePathRate,
        comparable_jerk: figures.comparableJerk,
        comparable_ratio: figures.comparableRatio,
        comparable_weak: figures.comparableWeak ? 1 : 0,
        comparable_basis: figures.comparableBasis,
        look_alike: figures.lookAlike ? 1 : 0,
        analysis_version: report.version,
        time_scale: timeScale(report.quality.clock),
      })
      .where('id', '=', sessionId)
      .compile(),
  ]
}
