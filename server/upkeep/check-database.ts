import type { Database as SqliteDatabase } from 'better-sqlite3'
import { appliedMigrations, MIGRATIONS } from '../store/sqlite/migrations.ts'
import { checkJson } from './check-json.ts'
import { checkReports } from './check-reports.ts'
import { checkSamples } from './check-samples.ts'
import type { SampleCounts } from './check-samples.ts'
import type { Checked, Finding } from './finding.ts'

export interface DatabaseCheck extends Checked {
  readonly counts: SampleCounts
}

/** SQLite stops after so many; one is enough to know. */
const MOST_PAGE_ERRORS = 20

/**
 * Everything that can be wrong in a database: its pages and indexes, references, samples, JSON and reports. Reads one
 * state, whatever a server writes meanwhile.
 */
export function checkDatabase(raw: SqliteDatabase): DatabaseCheck {
  return raw.transaction(() => {
    const findings: Finding[] = []
    const notes: string[] = []
    let counts: SampleCounts = { streams: 0, blocks: 0, samples: 0, lost: 0, inInflux: 0 }
    const attempt = (work: () => void) => {
      try {
        work()
      } catch (error) {
        // What one check cannot read the others may: all of them are told.
        findings.push({ kind: 'database', text: (error as Error).message })
      }
    }
    attempt(() => findings.push(...pageFindings(raw)))
    attempt(() => findings.push(...referenceFindings(raw)))
    attempt(() => {
      const version = versionOf(raw)
      findings.push(...version.findings)
      notes.push(...version.notes)
    })
    attempt(() => {
      const samples = checkSamples(raw)
      findings.push(...samples.findings)
      counts = samples.counts
      if (counts.inInflux > 0) {
        notes.push(
          `${counts.inInflux} samples are in InfluxDB and were not read here; back that up by its own means.`,
        )
      }
    })
    attempt(() => findings.push(...checkJson(raw)))
    attempt(() => {
      const reports = checkReports(raw)
      findings.push(...reports.findings)
      notes.push(...reports.notes)
    })
    return { findings, notes, counts }
  })()
}

function pageFindings(raw: SqliteDatabase): Finding[] {
  const rows = raw.pragma(`integrity_check(${MOST_PAGE_ERRORS})`) as { integrity_check: string }[]
  return rows
    .map((row) => row.integrity_check)
    .filter((text) => text !== 'ok')
    .map((text) => ({ kind: 'database', text: `integrity check: ${text}` }))
}

function referenceFindings(raw: SqliteDatabase): Finding[] {
  const rows = raw.pragma('foreign_key_check') as { table: string; rowid: number | null; parent: string }[]
  const groups = new Map<string, number>()
  for (const { table, parent } of rows) {
    const key = `of ${table} belong to nothing in ${parent}`
    groups.set(key, (groups.get(key) ?? 0) + 1)
  }
  return [...groups].map(([words, count]) => ({ kind: 'reference', text: `${count} rows ${words}` }))
}

function versionOf(raw: SqliteDatabase): Checked {
  const applied = appliedMigrations(raw)
  const unknown = applied.filter((name) => !(name in MIGRATIONS))
  const pending = Object.keys(MIGRATIONS).filter((name) => !applied.includes(name))
  return {
    findings:
      unknown.length === 0
        ? []
        : [{ kind: 'version', text: `written by a newer Swaybook (it has ${unknown.join(', ')})` }],
    notes:
      pending.length === 0
        ? []
        : [
            `of an earlier version (without ${pending.join(', ')}): swaybook migrate, or the next start, ` +
              'brings it up to date.',
          ],
  }
}
