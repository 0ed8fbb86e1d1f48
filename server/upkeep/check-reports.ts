import type { Database as SqliteDatabase } from 'better-sqlite3'
import { ANALYSIS_VERSION } from '#signal/constants'
import type { Checked, Finding } from './finding.ts'

interface Row {
  readonly id: string
  readonly dog_id: string
  readonly holds: number | null
  readonly analysis_version: string | null
  readonly report_version: string | null
  readonly stored_holds: number
}

/** Finished sessions have a report of the version they say, with as many holds; what an old analysis made is told. */
export function checkReports(raw: SqliteDatabase): Checked {
  const rows = raw
    .prepare<[], Row>(
      `select s.id, s.dog_id, s.holds, s.analysis_version, r.analysis_version as report_version,
              (select count(*) from holds h where h.session_id = s.id) as stored_holds
       from sessions s left join reports r on r.session_id = s.id
       where s.state = 'finished' order by s.id`,
    )
    .all()
  const findings = rows.flatMap((row): Finding[] => {
    const wrong = problemOf(row)
    if (wrong === null) return []
    return [{ kind: 'report', text: `session ${row.id} of dog ${row.dog_id} ${wrong}` }]
  })
  const stale = rows.filter(
    ({ report_version }) => report_version !== null && report_version !== ANALYSIS_VERSION,
  )
  const notes =
    stale.length === 0
      ? []
      : [
          `${stale.length} of ${rows.length} reports are of another analysis than ${ANALYSIS_VERSION}: ` +
            'they stay readable; swaybook reanalyse --stale measures them anew, and says what moved.',
        ]
  return { findings, notes }
}

function problemOf({ holds, analysis_version, report_version, stored_holds }: Row): string | null {
  if (report_version === null) return 'is finished and has no report'
  if (analysis_version !== report_version) {
    return `says analysis ${analysis_version}, its report ${report_version}`
  }
  // Reports keep the quiet stand among the holds, sessions count exercise only.
  if (holds !== null && holds > stored_holds) return `counts ${holds} holds, ${stored_holds} are stored`
  return null
}
