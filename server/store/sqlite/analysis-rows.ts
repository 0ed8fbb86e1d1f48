import type { CompiledQuery } from 'kysely'
import { sessionFigures, tremorRmsMs2 } from '#server/analysis/figures'
import type { AnalysisRecord, ReanalysisTold } from '../records.ts'
import { timeScale } from '../time-axis.ts'
import { auditQuery } from './audit.ts'
import type { Connection } from './connection.ts'

/** Replaces a session's analysis, in one transaction with the line that tells of it. */
export function saveAnalysis(
  { db, together }: Connection,
  sessionId: string,
  analysis: AnalysisRecord,
  told?: ReanalysisTold,
): void {
  together(({ rows, run }) => {
    const session = db
      .selectFrom('sessions')
      .select(['dog_id', 'analysis_version'])
      .where('id', '=', sessionId)
    const [before] = rows(session.compile())
    for (const query of analysisQueries(db, sessionId, analysis)) run(query)
    if (!told || !before) return
    const detail = {
      numbersMoved: told.numbersMoved,
      before: { analysisVersion: before.analysis_version },
      after: { analysisVersion: analysis.report.version },
    }
    run(auditQuery(db, told.by, { dogId: before.dog_id, sessionId, action: 'session.reanalysed', detail }))
  })
}

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
