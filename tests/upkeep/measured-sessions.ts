import Sqlite from 'better-sqlite3'
import { join } from 'node:path'
import type { StoredSessionEdits } from '#protocol/session-review'
import type { SessionSummary } from '#protocol/resources'
import type { Report } from '#signal/report-types'
import { formatTraceCsv } from '#signal/trace/format'
import { buildApp } from '#server/app'
import { addDog, call, testConfig } from '../helpers/build-app.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { upload } from '../helpers/upload.ts'
import { tamper } from './stored-data.ts'

export interface MeasuredSessions {
  readonly dogId: string
  /** In the order they were uploaded; all are finished. */
  readonly sessionIds: readonly string[]
}

/** Stores, in a folder no server runs on, a dog with `count` measured sessions; a person corrected a hold of the first. */
export async function storeMeasured(dataDir: string, count: number): Promise<MeasuredSessions> {
  const app = await buildApp(testConfig({ dataDir }))
  try {
    const dogId = await addDog(app)
    const sessionIds: string[] = []
    for (let seed = 1; seed <= count; seed++) {
      const answer = await upload(app, dogId, formatTraceCsv(sessionTrace(seed)), {}, `${seed}.csv`)
      sessionIds.push(answer.json<SessionSummary>().id)
    }
    const url = `/api/sessions/${sessionIds[0]}`
    const { marks, version } = (await call(app, { url: `${url}/edits` })).json<StoredSessionEdits>()
    const hold = (await call(app, { url: `${url}/report` })).json<Report>().holds.at(-1)!
    const { fromS, toS } = hold
    const set = {
      id: 'h',
      kind: 'set' as const,
      fromS: fromS + 1,
      toS: toS - 1,
      reason: 'Rowan saw a paw lift',
    }
    const payload = { marks, holds: [set] }
    const headers = { 'if-match': `"${version}"` }
    await call(app, { method: 'PUT', url: `${url}/edits`, payload, headers })
    return { dogId, sessionIds }
  } finally {
    await app.close()
  }
}

/** Makes stored reports such as another analysis would have left: another version, and sway a tenth larger. */
export function ageReports(dataDir: string, sessionIds: readonly string[]): void {
  tamper(dataDir, (raw) => {
    const read = raw.prepare<[string], string>('select report from reports where session_id = ?').pluck()
    for (const id of sessionIds) {
      const report = JSON.parse(read.get(id)!) as Report
      report.version = '1'
      for (const { sway } of report.holds) sway.rms.horizontal *= 1.1
      raw
        .prepare(`update reports set report = ?, analysis_version = '1' where session_id = ?`)
        .run(JSON.stringify(report), id)
      raw.prepare(`update sessions set analysis_version = '1' where id = ?`).run(id)
    }
  })
}

/** What is stored of each session's analysis, by its id; times at which rows were written left out. */
export function storedAnalyses(dataDir: string): ReadonlyMap<string, { version: string; text: string }> {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  try {
    const rows = raw
      .prepare<[], { id: string; report: string; timeline: string; version: string }>(
        `select s.*, r.report, r.timeline, r.analysis_version as version,
           (select json_group_array(json_array(hold_index, from_s, to_s, hands_off_s, ended_by, sway_ms2, tremor_ms2, detail))
              from holds where session_id = s.id) as all_holds
         from sessions s join reports r on r.session_id = s.id order by s.id`,
      )
      .all()
    return new Map(rows.map((row) => [row.id, { version: row.version, text: JSON.stringify(row) }]))
  } finally {
    raw.close()
  }
}

/** Rows that are people's: marks, corrected holds, notes, plans, the trail. */
export function peoplesRows(dataDir: string): string {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  try {
    const tables = ['marks', 'hold_edits', 'repetition_notes', 'plans', 'check_ins', 'diary_entries', 'dogs']
    return JSON.stringify(tables.map((table) => raw.prepare(`select * from ${table}`).all()))
  } finally {
    raw.close()
  }
}
