import { parseMount } from '#signal/mount/mount'
import { analyse } from '#signal/report'
import { holdDetailOf } from '#signal/review/hold-detail'
import { timelineOf } from '#signal/review/timeline'
import type { AnalysisRecord } from '../store/records.ts'
import type { TraceJob } from './jobs.ts'

/** Buckets of the stored overview: more than a wide screen has pixels. */
const TIMELINE_BUCKETS = 2000

/** Everything that is stored of an analysis. Takes its time: for threads of their own. */
export function analysed({ input, mount, limits, holdEdits }: Omit<TraceJob, 'kind'>): AnalysisRecord {
  const analysis = analyse(input, { mount: parseMount(mount), limits, holdEdits })
  return {
    report: analysis.report,
    timeline: timelineOf(analysis, TIMELINE_BUCKETS),
    holds: analysis.report.holds.map((measured, index) => ({
      measured,
      detail: holdDetailOf(analysis, index),
    })),
  }
}
