import type { Database as SqliteDatabase } from 'better-sqlite3'
import { Type } from 'typebox'
import type { TSchema } from 'typebox'
import { Compile } from 'typebox/compile'
import { SensorDescription } from '#protocol/resources'
import { FatigueSign } from '#protocol/session-review'
import { NewTrendSettings } from '#protocol/trends'
import { ANALYSIS_VERSION } from '#signal/constants'
import { DrawingFile, PlansFile, StreamFile } from '../export/archive-files.ts'
import { ReportSchema } from '../routes/report-schema.ts'
import { HoldDetailSchema } from '../routes/review-schemas.ts'
import { validationWords } from '../validation-words.ts'
import type { Finding } from './finding.ts'

interface JsonColumn {
  readonly table: string
  readonly column: string
  readonly schema: TSchema
  /** What names a row to people. */
  readonly key: readonly string[]
  /** Rows the schema of this version speaks of; the others must be JSON all the same. */
  readonly where?: string
}

/** What another analysis version left may lack what is new since. */
const OF_THIS_ANALYSIS = `analysis_version = '${ANALYSIS_VERSION}'`

/** Every column that holds JSON; a test compares it with the tables. */
export const JSON_COLUMNS: readonly JsonColumn[] = [
  {
    table: 'reports',
    column: 'report',
    schema: ReportSchema,
    key: ['session_id'],
    where: OF_THIS_ANALYSIS,
  },
  {
    table: 'reports',
    column: 'timeline',
    schema: DrawingFile.properties.timeline,
    key: ['session_id'],
    where: OF_THIS_ANALYSIS,
  },
  {
    table: 'holds',
    column: 'detail',
    schema: HoldDetailSchema,
    key: ['session_id', 'hold_index'],
    where: `session_id in (select session_id from reports where ${OF_THIS_ANALYSIS})`,
  },
  {
    table: 'plans',
    column: 'plan',
    schema: PlansFile.items.properties.plan,
    key: ['dog_id', 'version'],
  },
  { table: 'sessions', column: 'sensor_description', schema: SensorDescription, key: ['id'] },
  { table: 'streams', column: 'source', schema: StreamFile.properties.source, key: ['id'] },
  {
    table: 'repetition_notes',
    column: 'signs',
    schema: Type.Array(FatigueSign),
    key: ['session_id', 'id'],
  },
  { table: 'trend_settings', column: 'settings', schema: NewTrendSettings, key: ['dog_id'] },
  { table: 'audit', column: 'detail', schema: Type.Object({}), key: ['seq'] },
]

/** Every stored JSON text is JSON, and what its schema says. */
export function checkJson(raw: SqliteDatabase): Finding[] {
  return JSON_COLUMNS.flatMap((column) => columnFindings(raw, column))
}

function columnFindings(raw: SqliteDatabase, { table, column, schema, key, where }: JsonColumn): Finding[] {
  const known = (raw.pragma(`table_info(${table})`) as { name: string }[]).some(({ name }) => name === column)
  // A database of an earlier version: migrating it adds the column.
  if (!known) return []
  const check = Compile(schema)
  const findings: Finding[] = []
  const rows = raw
    .prepare<[], Record<string, unknown> & { json: string; checked: 0 | 1 }>(
      `select ${key.join(', ')}, ${column} as json, ${where ?? '1'} as checked from ${table} where ${column} is not null`,
    )
    .iterate()
  for (const row of rows) {
    const wrong = problemOf(row.json, row.checked ? check : null)
    if (wrong === null) continue
    const name = key.map((part) => `${part} ${String(row[part])}`).join(', ')
    findings.push({ kind: 'json', text: `${table}.${column} of ${name}: ${wrong}` })
  }
  return findings
}

function problemOf(text: string, check: ReturnType<typeof Compile> | null): string | null {
  let value: unknown
  try {
    value = JSON.parse(text)
  } catch (error) {
    return `not JSON (${(error as Error).message})`
  }
  if (!check || check.Check(value)) return null
  return validationWords(check.Errors(value), 'value')
}
